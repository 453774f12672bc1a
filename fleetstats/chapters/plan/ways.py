"""Where the missing evidence can come from: engines now running, or a number of new ones."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.advice.equivalents import (
    failure_bound,
    failures_within,
    hours_shown,
    poisson_allowance,
)
from fleetstats.advice.left_out import worth_with_left_out
from fleetstats.advice.success_run import equivalents_needed, failures_allowed, poisson_at_most
from fleetstats.chapters.plan.assumed_truth import Truth
from fleetstats.chapters.plan.values import PlanNeed, PlanOption
from fleetstats.core.value import Array
from fleetstats.spells import Event, Spells
from fleetstats.study.settings import Settings


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """What is asked of a plan; fields as in `plan_evidence`."""

    hours: float
    target: float
    confidence: float
    failures: int
    run_to_h: float
    truth: Truth


CURVE_POINTS = 41


def running_of(spells: Spells, running: ArrayLike | None = None) -> Array:
    """Return (n,) bool: spells whose engine can still run on.

    Without `running`, the last spell of each unit counts if it ended without any event.
    """
    if running is not None:
        return np.asarray(np.asarray(running, dtype=bool) & (spells.event == Event.CENSORED))
    last = np.zeros(len(spells), dtype=bool)
    order = np.lexsort((spells.exit_upper, spells.unit))
    if len(order):
        ends = np.append(spells.unit[order][1:] != spells.unit[order][:-1], True)
        last[order[ends]] = True
    return np.asarray(last & (spells.event == Event.CENSORED))


def _hours_each(
    ages: Array, weight: Array, missing: float, shape: float, hours: float, failures: int
) -> float:
    """Solve sum of w [((t + h)/T)^shape - (t/T)^shape] = missing for h; NaN without engines."""
    if missing <= 0.0:
        return 0.0
    if weight.sum() <= failures:
        return math.nan
    t = ages / hours

    def gained(h: float) -> float:
        each = (t + h) ** shape - t**shape
        # engines that fail on the way are counted as if they added nothing, the best of them first
        return float((weight * each).sum() - failures * each.max())

    high = 1.0
    while gained(high) < missing:
        high *= 2.0
    low = 0.0
    for _ in range(80):
        mid = 0.5 * (low + high)
        low, high = (mid, high) if gained(mid) < missing else (low, mid)
    return hours * high


def build_need(
    spells: Spells, running: Array, settings: Settings, plan: Ask, shape: float
) -> PlanNeed:
    """Return what is missing at one shape, and how today's fleet would fill it."""
    n_failed, worth = worth_with_left_out(spells, shape, plan.hours)
    n = float(worth[0])
    needed = equivalents_needed(plan.target, plan.confidence, n_failed + plan.failures)
    missing = max(needed - n, 0.0)
    ages, weight = spells.exit_upper[running], spells.weight[running]
    each = _hours_each(ages, weight, missing, shape, plan.hours, plan.failures)
    reach = not math.isnan(each)
    years = shown_on = None
    if reach and settings.fleet.hours_per_year:
        years = each / settings.fleet.hours_per_year
        if settings.study.analysis_date is not None and years < 500:
            days = dt.timedelta(days=round(365.25 * years))
            shown_on = settings.study.analysis_date + days
    chance = None
    if reach:
        expected = plan.truth.expected(ages, ages + each, weight, shape)
        chance = float(poisson_at_most(plan.failures, expected))
    return PlanNeed(
        shape=float(shape),
        equivalents=n,
        needed=needed,
        missing=missing,
        new_to_target=math.ceil(missing - 1e-9) + (plan.failures if missing > 0 else 0),
        new_to_run=math.ceil(missing / (plan.run_to_h / plan.hours) ** shape - 1e-9)
        + (plan.failures if missing > 0 else 0),
        hours_each=each if reach else None,
        fleet_hours=each * float(weight.sum()) if reach else None,
        years=years,
        shown_on=shown_on,
        chance=chance,
    )


def bound_curve(
    spells: Spells, running: Array, ask: Ask, shapes: tuple[float, ...], longest_h: float
) -> tuple[Array, Array]:
    """Return added hours (m,), and the bound (s, m) if every running engine adds them."""
    added = np.linspace(0.0, longest_h, CURVE_POINTS)
    ages, weight = spells.exit_upper[running] / ask.hours, spells.weight[running]
    n_failed, now = worth_with_left_out(spells, shapes, ask.hours)
    m = poisson_allowance(n_failed, ask.confidence)
    rows = []
    for b, n in zip(shapes, now, strict=True):
        gain = [float((weight * ((ages + h) ** b - ages**b)).sum()) for h in added / ask.hours]
        rows.append(failure_bound(n + np.array(gain), m))
    return added, np.array(rows)


def build_option(
    spells: Spells, running: Array, plan: Ask, option: str, shape: float, engines: int
) -> PlanOption:
    """Return what new engines, or the oldest run on, would buy at one shape."""
    if option == "new":
        start, weight = np.zeros(1), np.array([float(engines)])
    else:
        ages = np.repeat(spells.exit_upper[running], spells.weight[running].astype(int))
        start = np.sort(ages[ages < plan.run_to_h])[::-1][:engines]
        weight = np.ones(len(start))
    stop = np.full(len(start), plan.run_to_h)
    r, worth = worth_with_left_out(spells, shape, plan.hours)
    n = float(worth[0])
    gain = ((stop / plan.hours) ** shape - (start / plan.hours) ** shape) * weight
    after = n + float(gain.sum())
    c, accepted = plan.confidence, 1.0 - plan.target
    m = poisson_allowance(r, c)
    high_now = float(failure_bound(n, m))
    expected = plan.truth.expected(start, stop, weight, shape)
    # with so many failures the bound, m / equivalents, is still no higher than today's
    no_worse = failures_within(m * after / n if n > 0 else math.inf, r, c)
    allowed = failures_allowed(after, r, c, accepted)
    upset = None if allowed is None else 1.0 - float(poisson_at_most(allowed, expected))
    return PlanOption(
        option=option,
        shape=float(shape),
        n_engines=int(weight.sum()),
        run_to_h=plan.run_to_h,
        added_hours=float(((stop - start) * weight).sum()),
        failure_high_now=high_now,
        failure_high_after=float(failure_bound(after, m)),
        shown_to_now_h=plan.hours * hours_shown(n, m, plan.target, shape=shape),
        shown_to_after_h=plan.hours * hours_shown(after, m, plan.target, shape=shape),
        expected_failures=expected,
        chance_none=math.exp(-expected),
        chance_worse=1.0 - float(poisson_at_most(no_worse, expected)),
        failures_allowed=allowed,
        chance_upset=upset,
    )
