"""Curves over the check interval: slip share, failures, cost, and the longest that may be."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from fleetstats.bands.interval import Interval
from fleetstats.chapters.checks.values import LongestInterval
from fleetstats.core.units import text_hours
from fleetstats.core.value import Array
from fleetstats.study.settings import Settings
from fleetstats.survival.delay.delay_fitted import DelayFit

TARGET_SHARES = (0.05, 0.10, 0.20, 0.30)
"""Shares tabled when the study states no target; a table, not advice."""
FLAT = 1.05
"""Costs up to this factor above the least are called equal; as for overhaul hours."""
Fits = tuple[DelayFit, ...]
"""One fit for each chance of detection: low, assumed, high."""


def grid_hours(settings: Settings) -> Array:
    """Return check intervals (m,) for the curves, the usual one among them."""
    usual = settings.check.interval_h
    top = max(4.0 * usual, *settings.delay.intervals_h)
    return np.unique(np.concatenate([np.geomspace(usual / 10.0, top, 60), [usual]]))


def draw_curves(fits: Fits, hours: Array, settings: Settings) -> dict[str, object]:
    """Estimates at the assumed detection; edges are the widest over the range of detection."""
    level, usual = settings.study.confidence, settings.check.interval_h
    mid = fits[1]
    slip_low, slip_high = _widest(fits, lambda _, s: s, hours, level)
    low, high = _widest(fits, lambda r, s: 1000.0 * r * s, hours, level)
    i = int(np.searchsorted(hours, usual))
    limits = [f.mean_limits(level) for f in fits]
    lows, highs = [x[0] for x in limits], [x[1] for x in limits]
    name = "mean warning time"
    mean = Interval(
        name=name,
        estimate=mid.mean_delay_h if math.isfinite(mid.mean_delay_h) else None,
        low=None if None in lows else min(x for x in lows if x is not None),
        high=None if None in highs else max(x for x in highs if x is not None),
        level=level,
        method=_method(fits),
        unit="h",
        note_low="no lower limit from these data" if None in lows else "",
        note_high="no upper limit from these data" if None in highs else "",
    )
    out: dict[str, object] = {
        "intervals_h": hours,
        "slip": mid.slip(hours),
        "slip_low": slip_low,
        "slip_high": slip_high,
        "per_1000_h": mid.failures_per_1000_h(hours),
        "per_1000_h_low": low,
        "per_1000_h_high": high,
        "avoided_per_1000_h": mid.avoided_per_1000_h(hours),
        "mean_delay": mean,
        "slip_at_usual": Interval(
            name=f"share of faults that fail before a check each {usual:g} h finds them",
            estimate=float(mid.slip(usual)),
            low=float(slip_low[i]),
            high=float(slip_high[i]),
            level=level,
            method=_method(fits),
            unit="probability",
        ),
        "per_1000_at_usual": Interval(
            name="failures before detection per 1,000 h",
            estimate=float(mid.failures_per_1000_h(usual)),
            low=float(low[i]),
            high=float(high[i]),
            level=level,
            method=_method(fits),
            unit="",
        ),
    }
    return out | _costs(fits, hours, settings)


def _costs(fits: Fits, hours: Array, settings: Settings) -> dict[str, object]:
    d = settings.delay
    if d.cost_check is None or d.cost_failure is None:
        return {}
    check, fail, mend = d.cost_check, d.cost_failure, d.cost_repair or 0.0
    cost = fits[1].cost_per_h(hours, check, mend, fail)
    low, high = _widest(
        fits,
        lambda r, s: check / hours + r * (s * fail + (1.0 - s) * mend),
        hours,
        settings.study.confidence,
    )
    flat = hours[cost <= FLAT * cost.min()]
    best = float(hours[np.argmin(cost)])
    return {
        "cost_per_h": cost,
        "cost_low": low,
        "cost_high": high,
        "cheapest_h": (best, float(flat[0]), float(flat[-1])),
    }


def _widest(
    fits: Fits,
    what: Callable[[Array, Array], Array],
    hours: Array,
    level: float,
    *,
    at_age: bool = False,
) -> tuple[Array, Array]:
    edges = [f.limits(what, hours, level, at_age=at_age) for f in fits]
    # An average over laws of which the limits leave one out may lie beyond them: they hold it.
    middle = fits[1].estimate(what, hours, at_h=fits[1].at_h if at_age else None)
    return (
        np.min([middle, *(e[0] for e in edges)], axis=0),
        np.max([middle, *(e[1] for e in edges)], axis=0),
    )


def plan_longest(fits: Fits, settings: Settings) -> list[LongestInterval]:
    """Return the longest interval within each stated target; a table of shares where none is."""
    hours = np.geomspace(settings.check.interval_h / 25.0, settings.check.interval_h * 20.0, 160)
    level, mid, method = settings.study.confidence, fits[1], _method(fits)
    slip = (mid.slip(hours), *_widest(fits, lambda _, s: s, hours, level))
    at_h = fits[1].at_h
    each = _widest(fits, lambda r, s: r * s * hours, hours, level, at_age=at_h is not None)
    risk = (mid.failures_per_interval(hours, at_h), *each)
    age = "" if at_h is None else f" at {text_hours(at_h)}"
    stated: list[tuple[str, float | None, tuple[Array, ...]]] = [
        (f"chance of failing between two checks{age}", settings.targets.risk_per_check, risk),
        ("share of faults that fail before being found", settings.delay.accepted_share, slip),
    ]
    out = [
        LongestInterval(
            what=what, target=t, stated=True, hours=_reach(hours, curve, t, what, level, method)
        )
        for what, t, curve in stated
        if t is not None
    ]
    if settings.delay.accepted_share is None:
        what = stated[1][0]
        out += [
            LongestInterval(
                what=what, target=t, stated=False, hours=_reach(hours, slip, t, what, level, method)
            )
            for t in TARGET_SHARES
        ]
    return out


def _method(fits: Fits) -> str:
    return "profile" if fits[0].prior is None else "posterior"


def _reach(
    hours: Array, curve: tuple[Array, ...], target: float, what: str, level: float, method: str
) -> Interval:
    """Last hours at which the estimate, the upper and the lower edge are within the target."""

    def last(values: Array) -> float | None:
        over = np.flatnonzero(values > target)
        if not len(over):
            return None
        j = int(over[0])
        if j == 0:
            return 0.0
        w = (target - values[j - 1]) / (values[j] - values[j - 1])
        return float(hours[j - 1] + w * (hours[j] - hours[j - 1]))

    estimate, low, high = (last(c) for c in (curve[0], curve[2], curve[1]))
    beyond = f"beyond {hours[-1]:,.0f} h, not searched"
    return Interval(
        name=f"longest check interval for {what} of {target:g}",
        estimate=estimate,
        low=low,
        high=high,
        level=level,
        method=method,
        unit="h",
        note_low="" if low is not None else beyond,
        note_high="" if high is not None else beyond,
    )
