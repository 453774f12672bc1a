"""Small helpers for sentences: bounds are rounded to the careful side, counts read as words.

A bound rounded to the nearest digit may promise more than was computed; these never do.
"""

from __future__ import annotations

import math
import re

from fleetstats.core.units import round_hours, text_hours, text_percent

_TAIL = re.compile(r" (?:in|of|at|by|with|during|from|on) ")


def _digits(x: float, digits: int) -> int:
    return max(0, digits - 1 - math.floor(math.log10(x)))


def at_most(p: float, *, digits: int = 2) -> str:
    """Format a probability as percent, rounded up: an upper bound stays one."""
    x = float(f"{100.0 * p:.10g}")  # 1 - 0.9 is 0.1 to a reader
    if x <= 0.0 or not math.isfinite(x):
        return "0 %"
    if x >= 100.0:
        return "100 %"
    n = min(6, _digits(min(x, max(100.0 - x, 1e-6)), digits))
    up = math.ceil(x * 10**n - 1e-9) / 10**n
    return f"{min(up, 100.0):.{n}f} %"


def at_least(p: float, *, digits: int = 2) -> str:
    """Format a probability as percent, rounded down: a lower bound stays one."""
    x = float(f"{100.0 * p:.10g}")
    if x <= 0.0:
        return "0 %"
    n = min(6, _digits(min(x, max(100.0 - x, 1e-6)), digits))
    return f"{math.floor(x * 10**n + 1e-9) / 10**n:.{n}f} %"


def stated(p: float) -> str:
    """Format a share that somebody chose, such as a target: all its digits and no more."""
    return f"{float(f'{100.0 * p:.8g}'):g} %"


def chance(p: float) -> str:
    """Format a computed chance; the far ends are said in words, since they rest on a model."""
    if p < 1e-4:
        return "less than 1 in 10,000"
    if p > 0.999:
        return "over 99.9 %"
    return text_percent(p)


def one_in_at_most(p: float) -> str:
    """Say an upper bound as "about 1 in N", N rounded down to two significant digits.

    From 1 in 5 on, as "N in 100", rounded up.
    """
    if not 0.0 < p < 0.2:
        return f"{math.ceil(100.0 * max(p, 0.0) - 1e-9)} in 100"
    n = 1.0 / p
    step = 10 ** max(0, math.floor(math.log10(n)) - 1)
    return f"about 1 in {math.floor(n / step + 1e-9) * step:,.0f}"


def hours_down(hours: float | None) -> str:
    """Format hours rounded down to the step of advice: "at least so many hours"."""
    return text_hours(None if hours is None else round_hours(hours, down=True))


def hours_near(hours: float | None) -> str:
    """Format hours rounded to the nearest step of advice."""
    return text_hours(None if hours is None else round_hours(hours))


def plural(one: str) -> str:
    """Return a noun in the plural; the head of "failure in service" takes the ending."""
    m = _TAIL.search(one)
    head, tail = (one, "") if m is None else (one[: m.start()], one[m.start() :])
    return head + ("es" if head.endswith(("s", "x", "ch", "sh")) else "s") + tail


def count(n: float, one: str, many: str = "") -> str:
    """Say a count with its noun: "1 failure", "12 failures", "no failures"."""
    many = many or plural(one)
    if n == 0:
        return f"no {many}"
    number = f"{n:,.0f}" if abs(n - round(n)) < 1e-9 else f"{n:,.1f}"
    return f"{number} {one if number == '1' else many}"


def listed(items: list[str], joint: str = "and") -> str:
    """Join words as a sentence does: "a, b and c"."""
    if len(items) < 2:
        return "".join(items)
    return ", ".join(items[:-1]) + f" {joint} {items[-1]}"
