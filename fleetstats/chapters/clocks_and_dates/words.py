"""What is said of clocks at both ends and of years beside hours."""

from __future__ import annotations

from fleetstats.advice.advice import VERDICTS
from fleetstats.chapters.clocks_and_dates.values import Rerun
from fleetstats.core.units import text_decided, text_hours, text_number
from fleetstats.vocabulary.wording import count

TIED = 0.9
"""Rank correlation of hours and years above which they cannot be told apart (no source)."""


ALIKE = 1.5
"""Shapes within this ratio are called alike; few failures tell no finer difference."""


def clock_sentence(runs: tuple[Rerun, ...], n: int, words: set[str]) -> str:
    """Say what the range of the clock factors does to the answer."""
    lows = [r.life.low for r in runs if r.life.low is not None]
    text = f"The hours of {count(n, 'life', 'lives')} were converted from another meter."
    if lows:
        text += (
            f" With every factor at the low or at the high end of its range, the lower edge of the "
            f"{runs[0].life.name} lies between {text_hours(min(lows))} and {text_hours(max(lows))}."
        )
    if words == {""}:
        return text
    if len(words) == 1:
        return f"{text} The verdict on the claimed interval is the same at both ends."
    told = ", ".join(f"{VERDICTS[r.verdict]} at the {r.name}" for r in runs if r.verdict)
    return f"{text} The verdict on the claimed interval hangs on the clocks: {told}."


def calendar_sentence(
    correlation: float | None,
    shapes: tuple[float | None, ...],
    n_failed: float,
    *,
    n_dated: float,
    n_undated: int,
) -> str:
    """Say how hours and years go together, and which of them the failures follow."""
    parts = []
    of = f"of the {count(n_dated, 'life', 'lives')} with dates " if n_undated else ""
    if correlation is not None:
        tie = (
            "so closely that these records cannot tell which of the two ages the engines"
            if correlation > TIED
            else "loosely enough to look at both"
        )
        parts.append(
            f"Hours and years run together with a rank correlation of "
            f"{text_decided(correlation, TIED, unit='', digits=2)}, "
        )
        parts[-1] += tie + "."
    a, b = shapes
    if a is not None and b is not None and n_failed >= 5:
        alike = max(a, b) < ALIKE * min(a, b)
        more = "more regular by hours" if a > b else "more regular by years"
        parts.append(
            f"The Weibull shape {of}is {text_number(a)} by hours and {text_number(b)} by years: "
            f"failures are {'about as regular by either' if alike else more}."
        )
    else:
        parts.append(
            "Too few failures to compare the two clocks; the table shows where exposure is thin, "
            "and there hours do not tell."
        )
    return " ".join(parts)
