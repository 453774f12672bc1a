"""Hours, probabilities and rates: rounding and formatting.

Nothing is shown with more digits than its evidence carries: advice is rounded to 50 h (trade
practice for overhaul intervals, no source), probabilities to two significant digits.
"""

from __future__ import annotations

import math

ADVICE_STEP_H = 50.0
"""Hours to which advice is rounded; finer steps would claim more than the data hold."""


def round_hours(hours: float, *, step_h: float = ADVICE_STEP_H, down: bool | None = None) -> float:
    """Round hours to a multiple of `step_h`; ``down=True`` floors, ``False`` ceils, None nearest.

    Below one step the hours are rounded to one significant digit instead.
    """
    if not math.isfinite(hours) or hours <= 0:
        return hours
    if hours < step_h:
        step_h = 10.0 ** math.floor(math.log10(hours))
    q = hours / step_h
    if down is None:
        return round(q) * step_h
    eps = 1e-9
    return (math.floor(q + eps) if down else math.ceil(q - eps)) * step_h


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
    if p is None or math.isnan(p):
        return "–"
    x = 100.0 * p
    if x <= 0.0:
        return "0 %"
    if x >= 100.0:
        return "100 %"
    if abs(x - round(x)) < 1e-9:
        return f"{x:.0f} %"
    lead = min(x, 100.0 - x)
    decimals = max(0, digits - 1 - math.floor(math.log10(lead)))
    decimals = min(decimals, 6)
    out = f"{x:.{decimals}f}"
    if float(out) >= 100.0:
        out = f"{x:.6f}".rstrip("0").rstrip(".")
    return f"{out} %"


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
