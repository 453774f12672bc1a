"""What a plan lacks by the rule by which claims are judged, which may ask more than any one shape.

The plan's table stands on known shapes. A claim is quoted by the one rule of `advice/quoted.py`,
which looks past the stated range too. A plan that met the table alone could leave the claim not
shown, so what is asked for is found by the rule itself: what the plan asks makes the claim.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import numpy as np

from fleetstats.advice.judge import is_supported
from fleetstats.advice.left_out import reliability_low_with_left_out
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.in_use import is_few
from fleetstats.chapters.plan.ways import Ask
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.spells.supposed.changed import note_change
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit

MOST_ADDED = 4.0
"""Greatest hours added that are tried, as a multiple of the hours asked for."""

STEPS = 14


MOST_ENGINES = 10_000_000
"""New engines past which no number is named."""


def engines_by_rule(spells: Spells, settings: Settings, ask: Ask) -> int | None:
    """Return how many new engines, run to `hours` without a failure, make the claim by the rule.

    Engines at risk there are counted too (`evidence.min_at_risk`). None above `MOST_ENGINES`, or
    where the plan allows failures.
    """
    if ask.failures:
        return None
    hours, least = ask.hours, settings.evidence.min_at_risk

    def beyond(k: int) -> float:
        """Return the worth of the bound less that asked for; below 0 where too few would run."""
        more = spells
        if k:
            more = note_change(spells.join(_new(k, hours)), spells, [], [len(spells)])
        if more.at_risk(hours)[0] < least:
            return -math.inf
        return reliability_low_with_left_out(more, settings, hours, ask.confidence) - ask.target

    return _least_count(beyond, ask.target)


def _least_count(beyond: Callable[[int], float], target: float) -> int | None:
    """Return the least number at which a rising bound is not below its target.

    None past `MOST_ENGINES`. Engines that run on without a failure add up in the reciprocal of the
    bound's cumulative hazard, so that a straight line through it nearly meets the number at once;
    every third guess halves what is left, whatever the line says.
    """

    def worth(over: float) -> float:
        low = over + target
        return -1.0 / math.log(low) if 0.0 < low < 1.0 else math.nan

    low, high = -1, MOST_ENGINES + 1
    past: list[tuple[int, float]] = []
    for turn in itertools.count():
        if high - low == 1:
            return high if high <= MOST_ENGINES else None
        k = turn if turn < 2 else _next_count(past, worth(0.0), low, high, halve=turn % 3 == 1)
        over = beyond(k)
        past.append((k, worth(over)))
        low, high = (low, k) if over >= 0.0 else (k, high)
    raise AssertionError(low)


def _next_count(
    past: list[tuple[int, float]], asked: float, low: int, high: int, *, halve: bool
) -> int:
    """Return the next number to try, above `low` and below `high`."""
    (a, at_a), (b, at_b) = past[-2:]
    slope = (at_b - at_a) / (b - a)
    guess = b + (asked - at_b) / slope if slope > 0.0 else math.nan
    if halve or not math.isfinite(guess):
        # of numbers that may be large or small the middle is that of their logs
        guess = math.sqrt(max(low, 1) * high) if high > 4 * max(low, 1) else 0.5 * (low + high)
    return min(max(math.ceil(guess - 1e-9), low + 1), high - 1)


def _new(k: int, hours: float) -> Spells:
    return Spells.of(0.0, [hours], [0], unit=np.array(["new engines"]), weight=[float(k)])


def hours_by_rule(
    spells: Spells,
    running: Array,
    fit: Fit | None,
    settings: Settings,
    *,
    hours: float,
    target: float,
) -> float | None:
    """Return the hours that each running engine must add, none failing, for the claim to be shown.

    Parameters
    ----------
    spells : Spells
        Lives at risk.
    running : (n,) bool
        Spells whose engine can run on.
    fit : Fit or None
        Weibull fit of the spells, where there is one.
    settings : Settings
        Confidence, prior, shapes and method.
    hours, target : float
        Age, and reliability to be shown there.

    Returns
    -------
    float or None
        0 if it is shown already; None where `MOST_ADDED` does not show it, no engine runs, or the
        bands come from resampling, which would be drawn anew at each trial.
    """
    if not is_few(spells, fit) and settings.evidence.method not in ("auto", "shape-mixture"):
        return None

    def shown(added: float) -> bool:
        more = np.where(running, added, 0.0)
        run_on = spells.replace(
            exit_lower=spells.exit_lower + more, exit_upper=spells.exit_upper + more
        )
        return is_supported(Quoter.of(run_on, fit, settings), hours, target)

    if shown(0.0):
        return 0.0
    low, high = 0.0, MOST_ADDED * hours
    if not running.any() or not shown(high):
        return None
    for _ in range(STEPS):
        mid = 0.5 * (low + high)
        low, high = (low, mid) if shown(mid) else (mid, high)
    return high
