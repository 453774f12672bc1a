"""Answer (b): when does the chance of failing before the next check exceed the target?

No authority sets an acceptable figure, so the study must state its own. Where it does not, a short
list of targets stands in its place and no single age is given.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from fleetstats.advice.advice import RiskAnswer, ShapeLine, TargetAge
from fleetstats.advice.equivalents import life_equivalents, poisson_allowance, shape_grid
from fleetstats.advice.life import beyond
from fleetstats.advice.quoted import is_few, prepare
from fleetstats.bands.interval import Band, Interval
from fleetstats.core.units import one_in
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.wording import hours_down, hours_near, stated

LISTED_TARGETS = (0.0005, 0.001, 0.002, 0.005, 0.01)
"""Targets shown where the study states none: 1 in 2,000 to 1 in 100 per check. Not a proposal."""

SEARCH_SHARE = 2.5
"""Ages are searched up to this many times the oldest age seen."""

GRID = 101
"""Ages on the grid; crossings are interpolated between them."""


def age_exceeding(hours: Array, chance: Array, target: float) -> float | None:
    """Return the age at which a chance on a grid of ages first exceeds `target`.

    Linear between grid points. None if it never does; 0 if it does from the start.
    """
    over = np.flatnonzero(chance > target)
    if not len(over):
        return None
    i = int(over[0])
    if i == 0:
        return float(hours[0])
    a, b = float(chance[i - 1]), float(chance[i])
    if not math.isfinite(a):
        return float(hours[i])
    return float(hours[i - 1] + (hours[i] - hours[i - 1]) * (target - a) / (b - a))


def worst_chance(spells: Spells, hours: Array, width_h: float, settings: Settings) -> Array:
    """Return the upper bound of the chance at each age for the least favourable assumed shape.

    Given the shape, the cumulative hazard by T is at most m / N (see `advice/equivalents.py`), so
    the chance is at most 1 - exp(-(m / N) [((t + w)/T)^shape - (t/T)^shape]).
    """
    confidence = 0.5 * (1.0 + settings.study.confidence)
    grid = shape_grid(settings.evidence.shapes)
    m = poisson_allowance(spells.n_failed, confidence)
    top = spells.oldest_h
    rate = m / life_equivalents(spells, grid, top)
    x = hours / top
    rise = (x[:, None] + width_h / top) ** grid - x[:, None] ** grid
    return np.asarray(-np.expm1(-(rate * rise).max(axis=1)))


def chance_curve(
    spells: Spells, fit: Fit | None, settings: Settings, hours: Array, width_h: float
) -> Band:
    """Return the chance of failing within `width_h` at each age, its upper edge as it is quoted.

    With fewer than 5 failures the upper edge is the worse of the bound under the prior and the
    least favourable assumed shape, as everywhere (`advice/quoted.py`).
    """
    few = is_few(spells, fit)
    asked = prepare(spells, fit, settings, method="shape-mixture" if few else None)
    curve = asked.curve("conditional", hours, width_h=width_h)
    if not few:
        return curve
    return replace(
        curve, high=np.fmax(curve.high, worst_chance(spells, curve.hours, width_h, settings))
    )


def _target_age(curve: Band, target: float, few: bool, supported_h: float) -> TargetAge:
    none = "not reached within the ages searched"
    edges = [
        age_exceeding(curve.hours, curve.high, target),
        None if few else age_exceeding(curve.hours, curve.estimate, target),
        None if few else age_exceeding(curve.hours, curve.low, target),
    ]
    age = Interval(
        name=f"age at which the chance exceeds {stated(target)}",
        estimate=edges[1],
        low=edges[0],
        high=edges[2],
        level=curve.level,
        method=curve.method,
        unit="h",
        note_low="" if edges[0] is not None else none,
        note_high="" if edges[2] is not None else none,
    )
    return TargetAge(target=target, age=age, extrapolated=beyond(age, supported_h))


def _over_shapes(
    spells: Spells, settings: Settings, target: float, width_h: float
) -> tuple[ShapeLine, ...]:
    """Return for each assumed shape the age up to which the bound of the chance stays in target."""
    confidence = 0.5 * (1.0 + settings.study.confidence)
    m = poisson_allowance(spells.n_failed, confidence)
    top = spells.oldest_h
    shapes = sorted(settings.evidence.shapes)
    ages: list[float | None] = []
    for b, n in zip(shapes, life_equivalents(spells, shapes, top), strict=True):
        need = -math.log1p(-target) * float(n) / m
        w = width_h / top

        def rise(x: float, w: float = w, b: float = b) -> float:
            return float((x + w) ** b - x**b)

        if rise(0.0) > need:
            ages.append(0.0)
        elif b <= 1.0 or rise(100.0) <= need:
            ages.append(None)
        else:
            low, high = 0.0, 100.0
            for _ in range(70):
                mid = 0.5 * (low + high)
                low, high = (mid, high) if rise(mid) <= need else (low, mid)
            ages.append(top * low)
    known = [a for a in ages if a is not None]
    worst = min(known) if known else None
    return tuple(
        ShapeLine(shape=b, low_h=a, least_favourable=a is not None and a == worst)
        for b, a in zip(shapes, ages, strict=True)
    )


def advise_risk(
    spells: Spells, fit: Fit | None, settings: Settings, supported_h: float
) -> RiskAnswer:
    """Return the age at which the chance of failing before the next check exceeds the target.

    Parameters
    ----------
    spells : Spells
        Lives at risk.
    fit : Fit or None
        Weibull fit, where one exists.
    settings : Settings
        Check interval, target, confidence, shapes.
    supported_h : float
        Evidence horizon in hours.
    """
    width = settings.check.interval_h
    target = settings.targets.risk_per_check
    few = is_few(spells, fit)
    claimed = settings.study.claimed_interval_h
    far = SEARCH_SHARE * max(spells.oldest_h, claimed or 0.0)
    hours = np.concatenate([[0.0], np.linspace(far / (GRID - 1), far, GRID - 1)])
    curve = chance_curve(spells, fit, settings, hours, width)
    table = tuple(_target_age(curve, t, few, supported_h) for t in LISTED_TARGETS)
    at_claim = None
    if claimed is not None:
        one = chance_curve(spells, fit, settings, np.array([claimed]), width)
        at_claim = Interval(
            name=f"chance of failing within {width:g} h after {claimed:,.0f} h",
            estimate=None if few else float(one.estimate[0]),
            low=None if few else float(one.low[0]),
            high=float(one.high[0]),
            level=one.level,
            method=one.method,
            unit="probability",
        )
    lines = _over_shapes(spells, settings, target, width) if target is not None else ()
    if target is None:
        text = (
            "The study states no accepted chance of failing between checks (targets.risk_per_check)"
            ", and no authority sets one; a table of targets stands in its place and no single age "
            "is given."
        )
        return RiskAnswer(
            state="no-target",
            sentence=text,
            width_h=width,
            table=table,
            at_claim=at_claim,
            searched_to_h=far,
        )
    chosen = _target_age(curve, target, few, supported_h)
    state, text = _say(chosen, curve, width, few, supported_h)
    return RiskAnswer(
        state=state,
        sentence=text,
        width_h=width,
        target=target,
        chosen=chosen,
        table=table,
        over_shapes=lines,
        at_claim=at_claim,
        searched_to_h=far,
    )


def _say(
    chosen: TargetAge, curve: Band, width: float, few: bool, supported_h: float
) -> tuple[str, str]:
    age, target = chosen.age, chosen.target
    side = f"{50 * (1 + curve.level):g} %"
    lead = (
        f"The chance of failing within the next {width:g} h exceeds the study's "
        f"{stated(target)} ({one_in(target)})"
    )
    if not few and float(curve.estimate[1]) > float(curve.estimate[-1]):
        return "hours-do-not-tell", (
            f"The chance of failing within the next {width:g} h does not rise with hours, so no "
            "age can be named at which it first exceeds the target."
        )
    if age.low is None:
        return "answered", (
            f"Even on the pessimistic side (one-sided {side} upper bound) the chance of failing "
            f"within the next {width:g} h stays within the study's {stated(target)} up to "
            f"{supported_h:,.0f} h, where the evidence ends."
        )
    if age.low <= 0.0:
        return "not-enough-evidence", (
            f"These records cannot show a chance within the study's {stated(target)} per "
            f"{width:g} h at any age: the upper bound (one-sided {side}) is above it from new."
        )
    text = f"{lead} from {hours_down(age.low)} on the pessimistic side (one-sided {side} bound)"
    if few and age.estimate is None and age.high is None:
        text += "; there are too few failures for an estimate."
    else:
        mid = (
            "not within the ages searched"
            if age.estimate is None
            else (f"at {hours_near(age.estimate)}")
        )
        far = "not within the ages searched" if age.high is None else f"at {hours_near(age.high)}"
        text += f", {mid} by the best estimate and {far} on the optimistic side."
        if few:
            text += " Both rest on the stated prior on the shape as well as on so few failures."
    out = [
        w
        for w, e in zip(("pessimistic", "best", "optimistic"), chosen.extrapolated, strict=True)
        if e
    ]
    if out:
        text += (
            f" The {' and '.join(out)} {'ages lie' if len(out) > 1 else 'age lies'} beyond "
            f"{supported_h:,.0f} h, where the evidence ends: extrapolation."
        )
    return "answered", text
