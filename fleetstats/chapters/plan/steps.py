"""From the hours shown today to the target in steps, led by a few engines with a stop rule.

Before the fleet moves up a step, the target reliability has to be shown at the end of that step by
the rule by which claims are judged, and the evidence has to reach it (enough engines at risk). The
leaders are the oldest running engines, since they need the fewest hours.
"""

from __future__ import annotations

import math

import numpy as np

from fleetstats.advice.equivalents import shape_grid
from fleetstats.advice.left_out import reliability_low_with_left_out, worth_with_left_out
from fleetstats.advice.success_run import failures_allowed, poisson_at_most
from fleetstats.chapters.plan.assumed_truth import Truth
from fleetstats.chapters.plan.least_number import least_number
from fleetstats.chapters.plan.values import PlanStep
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.spells.supposed.changed import note_change
from fleetstats.study.settings import Settings

SHAPES_ON_GRID = 13
"""Shapes tried between the least and the greatest of the stated range."""


def advance(spells: Spells, rows: Array, to_h: float) -> Spells:
    """Return the spells with those `rows` run on to `to_h` without failure."""
    if not len(rows):
        return spells
    stop, lower = spells.exit_upper.copy(), spells.exit_lower.copy()
    stop[rows] = np.maximum(stop[rows], to_h)
    lower[rows] = stop[rows]
    return note_change(spells.replace(exit_upper=stop, exit_lower=lower), spells, rows, rows)


def plan_steps(
    spells: Spells,
    running: Array,
    settings: Settings,
    *,
    shapes: tuple[float, ...],
    start_h: float,
    to_h: float,
    step_h: float,
    target: float,
    confidence: float,
    truth: Truth,
) -> tuple[PlanStep, ...]:
    """Return the steps from `start_h` to `to_h`; empty if `to_h` is not above.

    Parameters
    ----------
    spells : Spells
        Lives at risk.
    running : (n,) bool
        Spells whose engine can run on.
    settings : Settings
        Engines that must be at risk, yearly use.
    shapes : tuple of float
        Range of shapes for every one of which a step has to be shown.
    start_h, to_h, step_h : float
        Hours at which the fleet stands, target, and height of a step.
    target, confidence : float
        Reliability to be shown at the end of each step, at one-sided confidence.
    truth : Truth
        Assumed for the chance that the stop rule is met.
    """
    grid = shape_grid(shapes, SHAPES_ON_GRID)
    out: list[PlanStep] = []
    at = start_h
    now = spells
    while at < to_h - 1e-9:
        up = min(at + step_h, to_h)
        step, now = _step(now, running, settings, grid, at, up, target, confidence, truth)
        out.append(step)
        if step.n_leaders is None:
            break
        at = up
    return tuple(out)


def _step(
    spells: Spells,
    running: Array,
    settings: Settings,
    grid: Array,
    from_h: float,
    to_h: float,
    target: float,
    confidence: float,
    truth: Truth,
) -> tuple[PlanStep, Spells]:
    rows = np.flatnonzero(running & (spells.exit_upper < to_h))
    rows = rows[np.argsort(-spells.exit_upper[rows], kind="stable")]
    k = _leaders(spells, rows, settings, to_h, target, confidence)
    used = rows if k is None else rows[:k]
    after = advance(spells, used, to_h)
    n_failed, total = worth_with_left_out(after, grid, to_h)
    worst = int(np.argmin(total))
    shape = float(grid[worst])
    weight, start = spells.weight[used], spells.exit_upper[used]
    n_after = float(total[worst])
    allowed = failures_allowed(n_after, n_failed, confidence, 1.0 - target)
    if k is not None and allowed is None:
        allowed = 0  # the rule looks at shapes together: one failure more is one too many
    chance = None
    if allowed is not None and len(used):
        expected = max(
            truth.expected(start, np.full(len(used), to_h), weight, float(b)) for b in grid
        )
        chance = 1.0 - float(poisson_at_most(allowed, expected))
    per_year = settings.fleet.hours_per_year
    step = PlanStep(
        from_h=from_h,
        to_h=to_h,
        n_leaders=None if k is None else int(weight.sum()),
        worst_shape=shape,
        leader_hours=float((weight * (to_h - start)).sum()),
        failure_high_after=1.0 - reliability_low_with_left_out(after, settings, to_h, confidence),
        stop_after=None if allowed is None or not len(used) else allowed + 1,
        chance_stop=chance,
        years=float((to_h - start).max()) / per_year if per_year and len(used) else None,
    )
    return step, after


def _leaders(
    spells: Spells, rows: Array, settings: Settings, to_h: float, target: float, confidence: float
) -> int | None:
    """Return how many of `rows`, the first of them first, show the step by the rule for claims."""
    tried: dict[int, Spells] = {0: spells}

    def beyond(k: int) -> float:
        fewer = max(i for i in tried if i <= k)
        after = tried[k] = advance(tried[fewer], rows[fewer:k], to_h)
        if after.at_risk(to_h)[0] < settings.evidence.min_at_risk:
            return -math.inf
        return reliability_low_with_left_out(after, settings, to_h, confidence) - target

    return least_number(beyond, target, len(rows))
