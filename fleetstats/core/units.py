"""Hours, probabilities and rates: rounding and formatting.

Nothing is shown with more digits than its evidence carries: advice is rounded to 50 h (trade
practice for overhaul intervals, no source), probabilities to two significant digits. There is one
exception: a number that decides is shown with as many digits as tell on which side of its limit it
lies, since "at most 90 %" beside a target of 90 % says nothing. Every number that is compared with
a limit is written by `text_decided`, here or through the helpers that call it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

ADVICE_STEP_H = 50.0
"""Hours to which advice is rounded; finer steps would claim more than the data hold."""


ALIKE = 1e-9
"""Relative difference below which two numbers are one to a reader: 1 - 0.9 is 0.1, though the
machine holds them apart at the seventeenth digit (from arithmetic, no source)."""

MOST_DECIMALS = 10
"""More decimals than this are never needed: numbers so near to each other count as alike."""


def side_of(x: float, limit: float) -> int:
    """Return -1, 0 or 1 for a number below, equal to or above a limit, as a reader sees it."""
    if abs(x - limit) <= ALIKE * max(abs(limit), abs(x)):
        return 0
    return -1 if x < limit else 1


def _cut(x: float, decimals: int, edge: str) -> float:
    """Round to so many decimals: up for an upper edge, down for a lower one, else nearest."""
    if not edge:
        return float(f"{x:.{decimals}f}")
    q = x * 10.0**decimals
    eps = 1e-9 * max(1.0, abs(q) * 1e-3)
    return (math.ceil(q - eps) if edge == "high" else math.floor(q + eps)) / 10.0**decimals


def decimals_that_tell(x: float, limits: Iterable[float], *, least: int = 0, edge: str = "") -> int:
    """Return with how many decimals a number must be written so that its side of each limit shows.

    Parameters
    ----------
    x : float
        The number, in the unit in which it is written.
    limits : iterable of float
        What it is compared with, in the same unit.
    least : int
        Decimals that it has anyway.
    edge : str
        ``"low"``: rounded down, ``"high"``: rounded up, empty: to the nearest.
    """
    against = list(limits)
    if not against:
        return least
    for n in range(least, MOST_DECIMALS):
        shown = _cut(x, n, edge)
        if all(side_of(shown, limit) == side_of(x, limit) for limit in against):
            return n
    return max(least, MOST_DECIMALS)


def text_decided(
    x: float | None,
    *limits: float | None,
    unit: str = "share",
    edge: str = "",
    digits: int | None = None,
) -> str:
    """Write a number that decides, with as many digits as show its side of each limit.

    Without limits, and wherever the usual digits tell the side already, it is written as any other
    number of its unit. It equals a limit in print only if it does so in the records (`ALIKE`).

    Parameters
    ----------
    x : float or None
        A share in 0 to 1, hours or a plain number; None is a dash.
    *limits : float or None
        What it is compared with, in the same unit; None and NaN are no limits.
    unit : str
        ``"share"`` (written as percent), ``"h"`` or empty (a plain number).
    edge : str
        ``"low"`` for a lower bound (rounded down), ``"high"`` for an upper one (up), else empty.
    digits : int, optional
        Significant digits that it has anyway; the unit's own by default.

    Examples
    --------
    >>> text_decided(0.8965, 0.90)
    '89.7 %'
    >>> text_decided(0.8965, 0.90, edge="high")
    '89.7 %'
    >>> text_decided(0.9, 0.90, edge="high")
    '90 %'
    >>> text_decided(1199.7, 1200.0, unit="h")
    '1,199.7 h'
    """
    if x is None or math.isnan(x):
        return "–"
    against = [v for v in limits if v is not None and math.isfinite(v)]
    if unit == "share":
        return _decided_share(x, against, edge, 2 if digits is None else digits)
    if math.isinf(x):
        return "no limit"
    if unit == "h":
        least = 0 if abs(x) >= 10 else max(0, 1 - _magnitude(x))
        tail, bare = " h", text_hours(x)
    else:
        digits = 3 if digits is None else digits
        least, tail = max(0, digits - 1 - _magnitude(x)), ""
        bare = text_number(x, digits=digits)
    if not against and not edge:
        return bare
    n = decimals_that_tell(x, against, least=least, edge=edge)
    if n == least and not edge:
        return bare
    return f"{_cut(x, n, edge):,.{n}f}{tail}"


def _magnitude(x: float) -> int:
    return 0 if x == 0 else math.floor(math.log10(abs(x)))


def _decided_share(p: float, limits: list[float], edge: str, digits: int) -> str:
    """Write a share as percent; see `text_decided`."""
    x = float(f"{100.0 * p:.10g}")  # 1 - 0.9 is 0.1 to a reader
    if x <= 0.0:
        return "0 %"
    if x >= 100.0:
        return "100 %"
    against = [float(f"{100.0 * v:.10g}") for v in limits]
    if any(side_of(x, v) == 0 for v in against):
        return text_stated(p)
    if not edge and abs(x - round(x)) < 1e-9:
        return f"{x:.0f} %"
    lead = min(x, max(100.0 - x, 1e-6))
    least = min(6, max(0, digits - 1 - math.floor(math.log10(lead))))
    n = decimals_that_tell(x, against, least=least, edge=edge)
    shown = _cut(x, n, edge)
    if not edge and shown >= 100.0:  # what is not certain is not written as certain
        return f"{x:.6f}".rstrip("0").rstrip(".") + " %"
    return f"{min(shown, 100.0):.{n}f} %"


def round_hours(
    hours: float,
    *limits: float | None,
    step_h: float = ADVICE_STEP_H,
    down: bool | None = None,
) -> float:
    """Round hours to a multiple of `step_h`; ``down=True`` floors, ``False`` ceils, None nearest.

    Below one step the hours are rounded to one significant digit instead. Where rounding would
    carry them to another side of a limit, the step is refined until it does not.
    """
    if not math.isfinite(hours) or hours <= 0:
        return hours
    against = [v for v in limits if v is not None and math.isfinite(v)]
    if hours < step_h:
        step_h = 10.0 ** math.floor(math.log10(hours))
    out = _round_to(hours, step_h, down)
    for finer in (10.0, 1.0, *(10.0**-k for k in range(1, 7))):
        if all(side_of(out, v) == side_of(hours, v) for v in against):
            break
        if finer < step_h:
            out = _round_to(hours, finer, down)
    return out


def _round_to(hours: float, step_h: float, down: bool | None) -> float:
    q = hours / step_h
    if down is None:
        return round(q) * step_h
    eps = 1e-9
    return (math.floor(q + eps) if down else math.ceil(q - eps)) * step_h


def round_edge(hours: float, edge: str, *limits: float | None) -> float:
    """Round the edge of an answer as it is shown: ``"low"`` down, others to the nearest step.

    The pessimistic edge is never rounded to the unsafe side; limits refine the step, as in
    `round_hours`.
    """
    return round_hours(hours, *limits, down=True if edge == "low" else None)


def text_hours(hours: float | None) -> str:
    """Format hours for a reader: thousands separated by a comma, no decimals from 10 h on."""
    if hours is None or math.isnan(hours):
        return "–"
    if math.isinf(hours):
        return "no limit"
    if abs(hours) < 10:
        return f"{hours:.2g} h"
    return f"{hours:,.0f} h"


def text_percent(p: float | None, *, digits: int = 2) -> str:
    """Format a probability as percent with about `digits` significant digits.

    Close to 100 % the digits are counted on the distance from 100 %, since that is what differs.
    Whole percents are written whole: an exact one was chosen or counted, not estimated.
    """
    return text_decided(p, digits=digits)


def text_stated(p: float) -> str:
    """Format a share that somebody chose, such as a target: all its digits and no more."""
    return f"{float(f'{100.0 * p:.8g}'):g} %"


def text_number(x: float | None, *, digits: int = 3) -> str:
    """Format a plain number with `digits` significant digits and no exponent in the usual range."""
    if x is None or math.isnan(x):
        return "–"
    if math.isinf(x):
        return "no limit"
    if x == 0:
        return "0"
    mag = math.floor(math.log10(abs(x)))
    if -4 <= mag < 6:
        return f"{x:,.{max(0, digits - 1 - mag)}f}"
    return f"{x:.{digits - 1}e}"


def one_in(p: float) -> str:
    """Say a small probability as "about 1 in N"; N rounded to two significant digits."""
    if not 0.0 < p < 1.0:
        return text_percent(p)
    n = 1.0 / p
    digits = max(0, math.floor(math.log10(n)) - 1)
    n = round(n, -digits) if n >= 10 else round(n)
    return f"about 1 in {n:,.0f}"
