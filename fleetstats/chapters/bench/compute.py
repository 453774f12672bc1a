"""We broke parts on the bench: what about the field? Stress-life, tested against field hours."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Any

import numpy as np

from fleetstats.chapters.bench.edges import edges_interval, scaled
from fleetstats.chapters.bench.field import compare_field, field_builds
from fleetstats.chapters.bench.values import Bench, LevelLine
from fleetstats.chapters.bench.words import bench_sentences, distance_words
from fleetstats.core.errors import FitError
from fleetstats.core.value import Array
from fleetstats.records.condition.bench_records import BenchRow
from fleetstats.spells.spells import Spells
from fleetstats.study.condition_settings import BenchKeys
from fleetstats.study.settings import Settings
from fleetstats.survival.stress.signed_root import (
    DRAWS,
    PLAIN,
    RootShift,
    estimate_root_shift,
)
from fleetstats.survival.stress.stress_bands import (
    levels_agree,
    limits_life,
    limits_margin,
    service_distance,
)
from fleetstats.survival.stress.stress_life import (
    ZERO_C_IN_K,
    StressLifeFit,
    StressRuns,
    fit_stress_life,
)
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.limits import FAR_FROM_TESTED, LEAST_LEVELS

CURVE_DRAWS = 60
"""Benches drawn at the ends of what was tested for the band of the curve, which is looked at."""


def judge_bench(rows: Sequence[BenchRow], spells: Spells, settings: Settings) -> Bench | None:
    """Fit the bench's stress-life law, carry it to service, and test it against the field.

    Bench failures of other modes end a run without saying anything of this one. Bench and field
    are joined only where the mode is proven the same on both sides.

    Parameters
    ----------
    rows : sequence of BenchRow
        Runs on the bench.
    spells : Spells
        Field lives.
    settings : Settings
        Tables bench, targets and study.

    Returns
    -------
    Bench or None
        None without runs.
    """
    if not rows:
        return None
    keys, level = settings.bench, settings.study.confidence
    p = round(1.0 - settings.targets.reliability, 9)
    warm = to_kelvin(keys)
    if warm:
        stress = keys.service_stress
        keys = dataclasses.replace(keys, service_stress=None if stress is None else stress + warm)
        settings = dataclasses.replace(settings, bench=keys)
    mode = keys.mode
    mine = [r.failed and (not mode or fold(r.mode) == fold(mode)) for r in rows]
    runs = StressRuns.of(
        np.array([r.stress for r in rows]) + warm, np.array([r.life for r in rows]), np.array(mine)
    )
    builds = field_builds(spells, settings)
    joined, why = _may_join(rows, mine, settings, builds)
    base = Bench(
        sentences=(),
        level=level,
        p=p,
        relation=keys.relation,
        stress_name=keys.stress_name,
        life_unit=keys.life_unit,
        mode=mode or "any mode",
        n=len(rows),
        n_failed=sum(mine),
        n_run_out=sum(not r.failed for r in rows),
        n_other_mode=sum(r.failed and not m for r, m in zip(rows, mine, strict=True)),
        levels=_levels(runs),
        service_stress=keys.service_stress,
        required_h=keys.required_h or settings.study.claimed_interval_h,
        joined=joined,
        not_joined=why,
        builds=builds,
        runs_stress=runs.stress,
        runs_life=runs.life,
        runs_failed=runs.failed,
    )
    try:
        fit = fit_stress_life(runs, relation=keys.relation)
    except FitError as error:
        return dataclasses.replace(_as_written(base, warm), sentences=(str(error),))
    law_p, shape_p = _tests(runs, keys.relation)
    answer = dataclasses.replace(
        base,
        shape=fit.shape,
        slope=fit.slope,
        intercept=fit.intercept,
        law_p=law_p,
        shape_p=shape_p,
    )
    answer = _curve(answer, runs, settings)
    if keys.service_stress is not None:
        answer = _service(answer, runs, fit, spells, settings)
    answer = _as_written(answer, warm)
    answer = dataclasses.replace(answer, cautions=_cautions(answer))
    return dataclasses.replace(answer, sentences=bench_sentences(answer))


def to_kelvin(keys: BenchKeys) -> float:
    """Return what is added to a stress as written: the ice point, for temperatures in Celsius."""
    celsius = keys.relation == "arrhenius" and keys.temperature_unit == "C"
    return ZERO_C_IN_K if celsius else 0.0


def _as_written(b: Bench, warm: float) -> Bench:
    """Return an answer with its stresses as the records write them."""
    if not warm:
        return b

    def back(x: Any) -> Any:
        return None if x is None else np.round(x - warm, 9)

    stress = b.service_stress
    return dataclasses.replace(
        b,
        levels=tuple(dataclasses.replace(x, stress=float(back(x.stress))) for x in b.levels),
        service_stress=None if stress is None else float(back(stress)),
        curve_stress=back(b.curve_stress),
        runs_stress=back(b.runs_stress),
    )


def _levels(runs: StressRuns) -> tuple[LevelLine, ...]:
    out = []
    for s in runs.levels:
        at = runs.stress == s
        out.append(
            LevelLine(
                stress=float(s),
                n=int(at.sum()),
                n_failed=int(runs.failed[at].sum()),
                shortest=float(runs.life[at].min()),
                longest=float(runs.life[at].max()),
            )
        )
    return tuple(out)


def _tests(runs: StressRuns, relation: str) -> tuple[float | None, float | None]:
    _, law_p, law_df, _, shape_p, shape_df = levels_agree(runs, relation=relation)
    return law_p if law_df else None, shape_p if shape_df else None


def _may_join(
    rows: Sequence[BenchRow], mine: list[bool], settings: Settings, builds: tuple[str, ...]
) -> tuple[bool, str]:
    keys = settings.bench
    if len(builds) > 1:
        return False, (
            "the study does not say of which build the benched parts are (bench.build), and the "
            f"field has {len(builds)}"
        )
    if not keys.mode:
        return False, "the study does not name the bench's failure mode"
    unproven = sum(m and not r.mode_proven_by for r, m in zip(rows, mine, strict=True))
    if unproven:
        return False, f"the mode of {unproven} bench failures is not established"
    if not keys.field_mode_proof:
        return False, "the study does not say how the field failures were shown to be of that mode"
    return True, ""


def _curve(answer: Bench, runs: StressRuns, settings: Settings) -> Bench:
    """Add the life of a share `p` against stress with its band, at a few stresses."""
    keys = settings.bench
    ends = [float(runs.levels[0]), float(runs.levels[-1])]
    if keys.service_stress is not None:
        ends.append(keys.service_stress)
    stress = np.unique(np.concatenate([np.geomspace(min(ends), max(ends), 13)[1:-1], ends]))
    known = {
        s: estimate_root_shift(
            runs,
            answer.p,
            s,
            relation=keys.relation,
            seed=settings.study.seed,
            draws=DRAWS if s == keys.service_stress else CURVE_DRAWS,
        )
        for s in sorted(set(ends))
    }
    shift = known.get(keys.service_stress or 0.0)
    edges = [
        limits_life(
            runs,
            answer.p,
            float(s),
            relation=keys.relation,
            level=answer.level,
            shift=_between(known, float(s)),
        )
        for s in stress
    ]

    def column(name: str) -> Array:
        return np.array([np.nan if getattr(e, name) is None else getattr(e, name) for e in edges])

    return dataclasses.replace(
        answer,
        curve_stress=stress,
        curve_life=column("estimate"),
        curve_low=column("low"),
        curve_high=column("high"),
        shift=shift,
    )


def _between(known: dict[float, RootShift], stress: float) -> RootShift:
    """Return the shift at a stress, by straight lines between those that were drawn for."""
    at = np.array(sorted(known))
    mean, spread = ([getattr(known[s], name) for s in at] for name in ("mean", "spread"))
    return RootShift(
        mean=float(np.interp(stress, at, mean)),
        spread=float(np.interp(stress, at, spread)),
        draws=min(k.draws for k in known.values()),
    )


def _service(
    answer: Bench, runs: StressRuns, fit: StressLifeFit, spells: Spells, settings: Settings
) -> Bench:
    keys, level, p = settings.bench, settings.study.confidence, answer.p
    stress = keys.service_stress
    assert stress is not None
    answer = dataclasses.replace(answer, distance=service_distance(runs, stress, keys.relation))
    per_h = 1.0 if keys.life_unit == "h" else keys.cycles_per_hour
    if per_h is None:
        return answer
    ends = (keys.cycles_per_hour_low or per_h, keys.cycles_per_hour_high or per_h)
    if keys.life_unit == "h":
        ends = (1.0, 1.0)
    shift = answer.shift or PLAIN
    edges = limits_life(runs, p, stress, relation=keys.relation, level=level, shift=shift)
    margin = None
    if answer.required_h is not None:
        try:
            found = limits_margin(
                runs,
                p,
                stress,
                answer.required_h * per_h,
                relation=keys.relation,
                level=level,
                shift=shift,
            )
            margin = edges_interval(
                "stress margin", found, level, "K" if keys.relation == "arrhenius" else ""
            )
        except FitError:
            margin = None
    checks = compare_field(answer, runs, fit, spells, settings, per_h=per_h, ends=ends, shift=shift)
    return dataclasses.replace(
        answer,
        per_h=per_h,
        life_h=edges_interval(
            f"B{100 * p:g} life at service stress", scaled(edges, 1.0 / per_h), level, "h"
        ),
        life_range_h=(
            None if edges.low is None else edges.low / ends[1],
            None if edges.low is None else edges.low / ends[0],
        ),
        margin=margin,
        fields=checks,
    )


def _cautions(b: Bench) -> tuple[Caution, ...]:
    out = []
    if b.distance is not None and b.distance > FAR_FROM_TESTED:
        low, high = b.levels[0].stress, b.levels[-1].stress
        out.append(
            caution(
                "bench-stress",
                value=f"service {b.service_stress:g}, {distance_words(b)} widths outside",
                limit=f"tested {low:g} to {high:g}",
            )
        )
    broken = sum(x.n_failed > 0 for x in b.levels)
    if broken < LEAST_LEVELS or any(x.n_failed == 0 for x in b.levels):
        out.append(
            caution(
                "bench-levels",
                value=f"{broken} of {len(b.levels)} stresses with failures",
                limit=str(LEAST_LEVELS),
            )
        )
    if not b.joined:
        out.append(caution("bench-mode", why=b.not_joined))
    return tuple(out)
