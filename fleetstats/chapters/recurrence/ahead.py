"""How many events that can come again to expect over the months ahead, with an interval.

The count carries three doubts: the rate is known only from the engines watched; engines differ, so
counts spread more than a Poisson count; and chance. The mix of ages is taken to stay as it was.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

import numpy as np

from fleetstats.core.gate import HOURS, LEVEL, POSITIVE, TEXT, gate
from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow
from fleetstats.spells.histories import Histories
from fleetstats.spells.running import find_running
from fleetstats.study.settings import Settings
from fleetstats.survival.lives import HISTORIES
from fleetstats.vocabulary.wording import count


@value
class CountAhead(Value):
    """Events of one kind over the months ahead.

    Parameters
    ----------
    kind : str
    months : float
    hours : float
        Engine hours that the running engines will fly, each at its own rate of use.
    expected, low, high : float
        Mean and prediction limits of the number of events; the limits are whole numbers.
    level : float
        Two-sided.
    spread : float
        Variance of counts between engines over that of a Poisson count; 1 or more.
    cost : float or None
        Expected cost in the study's money; None without costs.
    """

    kind: str
    months: float
    hours: float
    expected: float
    low: float
    high: float
    level: float
    spread: float
    cost: float | None


def hours_ahead(rows: Sequence[LifeRow], settings: Settings) -> float | None:
    """Return the hours that the running engines will fly within the forecast's months.

    None where no engine runs or none has a rate of use.
    """
    use = [e.use_h * e.count for e in find_running(rows, settings) if np.isfinite(e.use_h)]
    return sum(use) * settings.forecast.months / 12.0 if use else None


@gate(histories=HISTORIES, hours=HOURS, kind=TEXT, months=POSITIVE, level=LEVEL)
def predict_count(
    histories: Histories, hours: float, *, kind: str, months: float, level: float
) -> CountAhead | None:
    """Return the events to expect over `hours`, with prediction limits; None without events.

    Parameters
    ----------
    histories : Histories
        Engines watched and the events of one kind.
    hours : float
        Engine hours ahead.
    kind, months : str, float
        For the label.
    level : float
        Two-sided.

    Returns
    -------
    CountAhead or None
        Mean and limits, whole numbers; None where no event was seen.

    Notes
    -----
    The rate is the ratio estimator with engines as units (Cochran 1977, section 6.4). The count
    ahead is negative binomial with mean m = rate * hours and variance D m + (m s)^2, where D is
    the spread of counts between engines (at least 1) and s the relative standard error of the
    rate; its quantiles are the limits.

    References
    ----------
    Cochran (1977), Sampling Techniques, section 6.4.

    Examples
    --------
    >>> import fleetstats as fs
    >>> seen = fs.Histories.of(
    ...     list("abc"), 0, [900, 800, 950], list("aabbc"), [100, 700, 300, 500, 90]
    ... )
    >>> ahead = fs.predict_count(seen, 500.0, kind="plug fouled", months=12, level=0.90)
    >>> round(ahead.expected, 2), ahead.low, ahead.high
    (0.94, 0.0, 3.0)
    """
    names, place = np.unique(histories.unit, return_inverse=True)
    seen = np.bincount(place, weights=histories.end_h - histories.start_h)
    events = np.bincount(np.searchsorted(names, histories.event_unit), minlength=len(names))
    n, total = int(events.sum()), float(seen.sum())
    if n == 0 or hours <= 0.0:
        return None
    rate = n / total
    squares = float(np.square(events - rate * seen).sum()) * len(names) / max(len(names) - 1, 1)
    spread = max(1.0, squares / n)
    mean = rate * hours
    variance = spread * mean + mean**2 * spread / n
    p = mean / variance
    size = mean * p / (1.0 - p)
    tail = 0.5 * (1.0 - level)
    low, high = (float(_count_reached(size, p, q)) for q in (tail, 1.0 - tail))
    priced = bool((histories.event_cost != 1.0).any())
    return CountAhead(
        kind=kind,
        months=months,
        hours=hours,
        expected=mean,
        low=low,
        high=high,
        level=level,
        spread=spread,
        cost=mean * float(histories.event_cost.mean()) if priced else None,
    )


def _about(x: float) -> str:
    """Return a forecast sum with two digits; more would be a claim on the future."""
    return f"{float(f'{x:.2g}'):,.0f}"


def say_ahead(a: CountAhead, currency: str) -> str:
    """Return the sentence on one kind of event."""
    kind = "" if a.kind == "all events" else f" ({a.kind})"
    money = "" if a.cost is None else f", at a cost of about {_about(a.cost)} {currency}".rstrip()
    return (
        f"Over the next {count(a.months, 'month')} the running engines will fly about "
        f"{_about(a.hours)} h at their own rates: about {a.expected:,.0f} events{kind} are "
        f"expected, {a.low:,.0f} to {a.high:,.0f} with a chance of {100 * a.level:g} %{money}, if "
        "the mix of ages stays as it was."
    )


def _count_reached(size: float, p: float, share: float) -> int:
    """Return the least count of a negative binomial law whose chance of no more is `share`.

    The chance of at most k is ``I_p(size, k + 1)`` (from memory; tests hold it to a library's).
    """
    from scipy.special import betainc

    most = 1
    while betainc(size, most + 1.0, p) < share:
        most *= 2
    return bisect_left(range(most), share, key=lambda k: float(betainc(size, k + 1.0, p)))
