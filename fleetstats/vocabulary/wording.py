"""Small helpers for sentences: bounds are rounded to the careful side, counts read as words.

A bound rounded to the nearest digit may promise more than was computed; these never do.
"""

from __future__ import annotations

import math
import re

from fleetstats.core.units import round_edge, text_decided, text_hours, text_stated

_TAIL = re.compile(r" (?:in|of|at|by|with|during|from|on) ")

NOT_LIKELY_TO_SHOW = "further running is not likely to show it"
"""What follows from an estimate above the accepted chance: more of the same goes towards it."""


def at_most(p: float, *limits: float | None, digits: int = 2) -> str:
    """Format a probability as percent, rounded up: an upper bound stays one.

    Beside the limits that it is held against it has as many digits as show on which side it lies.
    """
    return text_decided(p, *limits, edge="high", digits=digits)


def at_least(p: float, *limits: float | None, digits: int = 2) -> str:
    """Format a probability as percent, rounded down: a lower bound stays one.

    Beside the limits that it is held against it has as many digits as show on which side it lies.
    """
    return text_decided(p, *limits, edge="low", digits=digits)


def stated(p: float) -> str:
    """Format a share that somebody chose, such as a target: all its digits and no more."""
    return text_stated(p)


def chance(p: float, *limits: float | None) -> str:
    """Format a computed chance; the far ends are said in words, since they rest on a model."""
    if p < 1e-4:
        return "less than 1 in 10,000"
    if p > 0.999:
        return "over 99.9 %"
    return text_decided(p, *limits)


def one_in_at_most(p: float) -> str:
    """Say an upper bound as "about 1 in N", N rounded down to two significant digits.

    From 1 in 5 on, as "N in 100", rounded up.
    """
    if not 0.0 < p < 0.2:
        return f"{math.ceil(100.0 * max(p, 0.0) - 1e-9)} in 100"
    n = 1.0 / p
    step = 10 ** max(0, math.floor(math.log10(n)) - 1)
    return f"about 1 in {math.floor(n / step + 1e-9) * step:,.0f}"


def hours_down(hours: float | None, *limits: float | None) -> str:
    """Format hours rounded down to the step of advice: "at least so many hours".

    The step is refined where it would carry them below a limit that they reach.
    """
    if hours is None:
        return text_hours(None)
    down = round_edge(hours, "low", *limits)
    return text_decided(down, *limits, unit="h", edge="low" if limits else "")


def hours_near(hours: float | None, *limits: float | None) -> str:
    """Format hours rounded to the nearest step of advice, on their own side of each limit."""
    if hours is None:
        return text_hours(None)
    return text_decided(round_edge(hours, "estimate", *limits), *limits, unit="h")


def hours_exact(hours: float, *limits: float | None) -> str:
    """Format hours to the hour, or finer where only that shows their side of a limit."""
    return text_decided(hours, *limits, unit="h")


def lives_of(n_lives: float, n_engines: float | None) -> str:
    """Say how many lives an age or a count rests on: "33 lives of 30 engines".

    An engine that was overhauled has a life before it and one after. Where each engine has one
    life, engines are what a reader counts: "33 engines". None: whose lives they are is not known.
    """
    if n_engines is None:
        return count(n_lives, "life", "lives")
    if abs(n_lives - n_engines) < 1e-9:
        return count(n_engines, "engine")
    return f"{count(n_lives, 'life', 'lives')} of {count(n_engines, 'engine')}"


def heads(n: float, *, engines: bool) -> str:
    """Say a number at risk at an age: engines where each has one life, else lives."""
    return count(n, "engine") if engines else count(n, "life", "lives")


def shape_words(shape: float, *limits: float) -> str:
    """Format a Weibull shape as the tables do: three digits, a whole one whole."""
    return f"{shape:.0f}" if shape == round(shape) else text_decided(shape, *limits, unit="")


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


def failures_told(n_failed: float, n_left_out: int) -> str:
    """Say how many failures stand behind an answer: "12 failures".

    Where the records hold others that no life counts, none is passed over.

    >>> failures_told(0, 5)
    'no failures that could be counted, and 5 that could not,'
    """
    seen = count(n_failed, "failure")
    if not n_left_out:
        return seen
    return f"{seen} that could be counted, and {n_left_out:,} that could not,"


def listed(items: list[str], joint: str = "and") -> str:
    """Join words as a sentence does: "a, b and c"."""
    if len(items) < 2:
        return "".join(items)
    return ", ".join(items[:-1]) + f" {joint} {items[-1]}"
