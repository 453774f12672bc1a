"""The bench's law held against the field's hours, within one build."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from fleetstats.chapters.bench.edges import edges_interval, scaled
from fleetstats.chapters.bench.values import Bench, FieldCheck, Improbable
from fleetstats.chapters.bench.words import DOUBT
from fleetstats.core.errors import FitError
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.stress.field_lives import FieldLives
from fleetstats.survival.stress.signed_root import RootShift
from fleetstats.survival.stress.stress_bands import limits_life, limits_ratio
from fleetstats.survival.stress.stress_life import (
    StressLifeFit,
    StressRuns,
    fit_stress_life,
    transform,
)
from fleetstats.vocabulary.fold import fold

REFITS = 200
"""Reweighted refits of the bench behind the range of the expected field failures."""


def compare_field(
    answer: Bench,
    runs: StressRuns,
    fit: StressLifeFit,
    spells: Spells,
    settings: Settings,
    *,
    per_h: float,
    ends: tuple[float, float],
    shift: RootShift,
) -> tuple[FieldCheck, ...]:
    """Return bench beside field for each build and each credible number of cycles per hour.

    Parameters
    ----------
    answer : Bench
        What the bench says so far, with its builds.
    runs, fit : StressRuns, StressLifeFit
        The bench and its law.
    spells : Spells
        Field lives.
    settings : Settings
        Table bench; confidence; seed.
    per_h, ends : float, (float, float)
        Bench life in one field hour: stated, and the ends of what is credible.
    shift : RootShift
        What moves the limits of the joint life.
    """
    stress = settings.bench.service_stress
    assert stress is not None
    field = field_spells(spells, settings)
    refits = _refits(runs, stress, settings)
    out = []
    for build in answer.builds or ("",):
        mine = field.select(_is_build(field, build)) if answer.builds else field
        if not len(mine):
            continue
        for k in dict.fromkeys((ends[0], per_h, ends[1])):
            lives = FieldLives(spells=mine, stress=stress, per_h=k)
            out.append(_check(answer, runs, fit, refits, lives, settings, build, shift))
    return tuple(out)


def field_spells(spells: Spells, settings: Settings) -> Spells:
    """Return field lives for the bench's mode: failures of other causes only end observation."""
    keys = settings.bench
    names = {fold(c) for c in (keys.field_causes or ((keys.mode,) if keys.mode else ()))}
    broke = (spells.event == Event.FAILED) | (spells.event == Event.COMPETING)
    mine = broke & np.array([not names or fold(c) in names for c in spells.cause], dtype=bool)
    lower = np.where(mine, spells.exit_lower, spells.exit_upper)
    return spells.replace(event=np.where(mine, Event.FAILED, Event.CENSORED), exit_lower=lower)


def field_builds(spells: Spells, settings: Settings) -> tuple[str, ...]:
    """Return the builds to compare with, one by one; empty where the field has no more than one.

    The build that the benched parts are of, where it is stated.
    """
    if settings.bench.build:
        return (settings.bench.build,)
    names = tuple(sorted({str(b) for b in spells.build}))
    return names if len(names) > 1 else ()


def _is_build(spells: Spells, build: str) -> Array:
    return np.array([fold(str(b)) == fold(build) for b in spells.build], dtype=bool)


def _check(
    answer: Bench,
    runs: StressRuns,
    fit: StressLifeFit,
    refits: tuple[Array, Array],
    field: FieldLives,
    settings: Settings,
    build: str,
    shift: RootShift,
) -> FieldCheck:
    keys, level, spells = settings.bench, settings.study.confidence, field.spells
    law = (np.array([fit.shape]), np.array([math.log(fit.scale(field.stress))]))
    e = expected_failures(refits, field)
    so_few, so_many = _chances(e, float(spells.weight[spells.failed].sum()))
    agrees = "not-contradicted"
    if so_few < DOUBT:
        agrees = "field-lives-longer"
    elif so_many < DOUBT:
        agrees = "field-fails-sooner"
    ratio = p_value = joint = None
    try:
        edges, _, p_value = limits_ratio(runs, field, relation=keys.relation, level=level)
        ratio = edges_interval("field life over bench prediction", edges, level, "")
    except FitError:
        ratio = None
    if answer.joined and agrees == "not-contradicted":
        both = limits_life(
            runs, answer.p, field.stress, relation=keys.relation, level=level, field=field,
            shift=shift,
        )  # fmt: skip
        name = f"B{100 * answer.p:g} life, bench and field"
        joint = edges_interval(name, scaled(both, 1.0 / field.per_h), level, "h")
    low, high = (float(x) for x in np.quantile(e, (0.05, 0.95)))
    return FieldCheck(
        per_h=field.per_h,
        build=build,
        expected=float(expected_failures(law, field)[0]),
        expected_low=low,
        expected_high=high,
        seen=float(spells.weight[spells.failed].sum()),
        chance_so_few=so_few,
        chance_so_many=so_many,
        ratio=ratio,
        p_value=p_value,
        agrees=agrees,
        joint_life_h=joint,
        improbable=_improbable(refits, field),
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
        log_scale[i] = fit.intercept + fit.slope * transform(stress, fit.relation)
    return shape, log_scale


def expected_failures(
    laws: tuple[Array, Array], field: FieldLives, *, by_h: float = math.inf
) -> Array:
    """Return (m,) field failures that each of m laws leads one to expect, up to `by_h` hours.

    Parameters
    ----------
    laws : ((m,) float, (m,) float)
        Shapes, and logs of the scales at the field's stress, in the bench's life.
    field : FieldLives
        The field's lives for the bench's mode.
    by_h : float
        Age in field hours up to which failures count.
    """
    s = field.spells
    end = np.minimum(0.5 * (s.exit_lower + s.exit_upper), by_h)
    entry = np.minimum(s.entry, end)
    with np.errstate(divide="ignore", over="ignore"):
        log_end, log_entry = np.log(end * field.per_h), np.log(entry * field.per_h)
        return np.array(
            [
                float(s.weight @ (np.exp(k * (log_end - c)) - np.exp(k * (log_entry - c))))
                for k, c in zip(*laws, strict=True)
            ]
        )


def _chances(e: Array, seen: float) -> tuple[float, float]:
    """Return the chances of as few or fewer, and of as many or more, averaged over the refits."""
    from scipy.special import pdtr

    so_few = float(pdtr(seen, e).mean())
    return so_few, 1.0 if seen < 1 else float((1.0 - pdtr(seen - 1, e)).mean())


def _improbable(refits: tuple[Array, Array], field: FieldLives) -> tuple[Improbable, ...]:
    """Return field failures so young that the law makes them improbable, the youngest first.

    The chance is that of so many failures by that age as there were, averaged over the refits.
    """
    s = field.spells
    age = np.where(s.failed, s.exit_upper, np.inf)
    out = []
    for i in np.argsort(age, kind="stable")[: int(s.failed.sum())]:
        by_then = float(s.weight[s.failed & (s.exit_upper <= age[i])].sum())
        e = expected_failures(refits, field, by_h=float(age[i]))
        _, chance = _chances(e, by_then)
        if chance < DOUBT:
            out.append(
                Improbable(
                    engine=str(s.unit[i]), hours=float(age[i]), cause=str(s.cause[i]), chance=chance
                )
            )
    return tuple(out)
