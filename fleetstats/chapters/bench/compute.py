"""We broke parts on the bench: what about the field? Stress-life, tested against field hours."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence

import numpy as np

from fleetstats.bands.interval import Interval
from fleetstats.chapters.bench.values import Bench, FieldCheck, LevelLine
from fleetstats.chapters.bench.words import DOUBT, bench_sentences, distance_words
from fleetstats.core.errors import FitError
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array
from fleetstats.records.condition.bench_records import BenchRow
from fleetstats.spells.spells import Event, Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.stress.stress_bands import (
    Edges,
    levels_agree,
    limits_life,
    limits_margin,
    limits_ratio,
    service_distance,
)
from fleetstats.survival.stress.stress_life import FieldLives, StressRuns, fit_stress_life
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.limits import FAR_FROM_TESTED, LEAST_LEVELS

REFITS = 200
"""Reweighted refits of the bench behind the expected field failures."""


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
    mode = keys.mode
    mine = [r.failed and (not mode or fold(r.mode) == fold(mode)) for r in rows]
    runs = StressRuns.of(
        np.array([r.stress for r in rows]), np.array([r.life for r in rows]), np.array(mine)
    )
    joined, why = _may_join(rows, mine, settings)
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
        runs_stress=runs.stress,
        runs_life=runs.life,
        runs_failed=runs.failed,
    )
    try:
        fit = fit_stress_life(runs, relation=keys.relation)
    except FitError as error:
        return dataclasses.replace(base, sentences=(str(error),))
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
        answer = _service(answer, runs, spells, settings)
    answer = dataclasses.replace(answer, cautions=_cautions(answer, runs))
    return dataclasses.replace(answer, sentences=bench_sentences(answer))


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


def _may_join(rows: Sequence[BenchRow], mine: list[bool], settings: Settings) -> tuple[bool, str]:
    keys = settings.bench
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
    edges = [
        limits_life(runs, answer.p, float(s), relation=keys.relation, level=answer.level)
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
    )


def _service(answer: Bench, runs: StressRuns, spells: Spells, settings: Settings) -> Bench:
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
    edges = limits_life(runs, p, stress, relation=keys.relation, level=level)
    margin = None
    if answer.required_h is not None:
        try:
            found = limits_margin(
                runs, p, stress, answer.required_h * per_h, relation=keys.relation, level=level
            )
            margin = _interval("stress margin", found, level, "")
        except FitError:
            margin = None
    field = _field_spells(spells, settings)
    rates = dict.fromkeys((ends[0], per_h, ends[1]))
    refits = _refits(runs, stress, settings)
    checks = tuple(_field(runs, refits, field, stress, k, answer, settings) for k in rates)
    return dataclasses.replace(
        answer,
        per_h=per_h,
        life_h=_interval(
            f"B{100 * p:g} life at service stress", _scaled(edges, 1.0 / per_h), level, "h"
        ),
        life_range_h=(
            None if edges.low is None else edges.low / ends[1],
            None if edges.low is None else edges.low / ends[0],
        ),
        margin=margin,
        fields=checks,
    )


def _scaled(e: Edges, k: float) -> Edges:
    return Edges(
        estimate=e.estimate * k,
        low=None if e.low is None else e.low * k,
        high=None if e.high is None else e.high * k,
    )


def _interval(name: str, e: Edges, level: float, unit: str) -> Interval:
    none = "the profile does not close on this side"
    return Interval(
        name=name,
        estimate=e.estimate if math.isfinite(e.estimate) else None,
        low=e.low,
        high=e.high,
        level=level,
        method="profile",
        unit=unit,
        note_low="" if e.low is not None else none,
        note_high="" if e.high is not None else none,
    )


def _field_spells(spells: Spells, settings: Settings) -> Spells:
    """Field lives for the bench's mode: failures of other causes only end the observation."""
    keys = settings.bench
    names = {fold(c) for c in (keys.field_causes or ((keys.mode,) if keys.mode else ()))}
    broke = (spells.event == Event.FAILED) | (spells.event == Event.COMPETING)
    mine = broke & np.array([not names or fold(c) in names for c in spells.cause], dtype=bool)
    lower = np.where(mine, spells.exit_lower, spells.exit_upper)
    return spells.replace(event=np.where(mine, Event.FAILED, Event.CENSORED), exit_lower=lower)


def _field(
    runs: StressRuns,
    refits: tuple[Array, Array],
    spells: Spells,
    stress: float,
    per_h: float,
    answer: Bench,
    settings: Settings,
) -> FieldCheck:
    keys, level = settings.bench, settings.study.confidence
    field = FieldLives(spells=spells, stress=stress, per_h=per_h)
    expected, so_few, so_many, spread = _expected(refits, field)
    seen = float(spells.weight[spells.failed].sum())
    agrees = "not-contradicted"
    if so_few < DOUBT:
        agrees = "field-lives-longer"
    elif so_many < DOUBT:
        agrees = "field-fails-sooner"
    ratio = p_value = joint = None
    try:
        edges, _, p_value = limits_ratio(runs, field, relation=keys.relation, level=level)
        ratio = _interval("field life over bench prediction", edges, level, "")
    except FitError:
        ratio = None
    if answer.joined and agrees == "not-contradicted":
        both = limits_life(runs, answer.p, stress, relation=keys.relation, level=level, field=field)
        joint = _interval(
            f"B{100 * answer.p:g} life, bench and field", _scaled(both, 1.0 / per_h), level, "h"
        )
    return FieldCheck(
        per_h=per_h,
        expected=expected,
        expected_low=spread[0],
        expected_high=spread[1],
        seen=seen,
        chance_so_few=so_few,
        chance_so_many=so_many,
        ratio=ratio,
        p_value=p_value,
        agrees=agrees,
        joint_life_h=joint,
    )


def _refits(runs: StressRuns, stress: float, settings: Settings) -> tuple[Array, Array]:
    """Shapes and log scales at a stress, over reweighted refits of the bench."""
    rng = stream(settings.study.seed, "bench-refits")
    # each run keeps its draw when the rows of the file stand in another order
    order = np.lexsort((runs.failed, runs.life, runs.stress))
    runs = dataclasses.replace(
        runs,
        stress=runs.stress[order],
        life=runs.life[order],
        failed=runs.failed[order],
        weight=runs.weight[order],
    )
    shape, log_scale = np.empty(REFITS), np.empty(REFITS)
    for i in range(REFITS):
        w = rng.exponential(size=len(runs))
        again = dataclasses.replace(runs, weight=w * len(w) / w.sum())
        fit = fit_stress_life(again, relation=settings.bench.relation)
        shape[i] = fit.shape
        log_scale[i] = fit.intercept + fit.slope * _x(stress, fit.relation)
    return shape, log_scale


def _expected(
    refits: tuple[Array, Array], field: FieldLives
) -> tuple[float, float, float, tuple[float, float]]:
    """Field failures that the bench leads one to expect, over its reweighted refits."""
    from scipy.special import pdtr

    s = field.spells
    end = 0.5 * (s.exit_lower + s.exit_upper)
    seen = float(s.weight[s.failed].sum())
    with np.errstate(divide="ignore", over="ignore"):
        log_end, log_entry = np.log(end * field.per_h), np.log(s.entry * field.per_h)
        e = np.array(
            [
                float(s.weight @ (np.exp(k * (log_end - c)) - np.exp(k * (log_entry - c))))
                for k, c in zip(*refits, strict=True)
            ]
        )
    so_few = float(pdtr(seen, e).mean())
    so_many = 1.0 if seen < 1 else float((1.0 - pdtr(seen - 1, e)).mean())
    low, mid, high = (float(x) for x in np.quantile(e, (0.05, 0.5, 0.95)))
    return mid, so_few, so_many, (low, high)


def _x(stress: float, relation: str) -> float:
    return math.log(stress) if relation == "power" else stress


def _cautions(b: Bench, runs: StressRuns) -> tuple[Caution, ...]:
    out = []
    if b.distance is not None and b.distance > FAR_FROM_TESTED:
        low, high = float(runs.levels[0]), float(runs.levels[-1])
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
