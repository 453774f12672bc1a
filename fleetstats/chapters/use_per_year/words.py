"""What is said of use per year and of the clock of a cause."""

from __future__ import annotations

import math
from collections.abc import Sequence

from fleetstats.chapters.use_per_year.values import CauseClock
from fleetstats.core.units import text_number
from fleetstats.survival.clocks.which_clock import WhichClock
from fleetstats.survival.groups.equal_ages import EqualAges
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import FEW_FOR_SHAPE
from fleetstats.vocabulary.wording import count, listed

WORDS = {
    "hours": "hours",
    "years": "years",
    "both": "a scale of both",
    "not-told": "cannot be told",
}
"""What a clock's word means in a table."""

MOST_TIMES = 1e6
"""Ratios of likelihoods beyond this are written as more than it."""


def say_use(
    median_h: float,
    low_h: float,
    high_h: float,
    at_hours: EqualAges | None,
    at_years: EqualAges | None,
    *,
    n_unknown: float,
) -> str:
    """Say how much engines are flown, and what little use does at equal hours and equal years."""
    text = (
        f"Half of the lives were flown less than {median_h:,.0f} h a year, one in ten less than "
        f"{low_h:,.0f} h and one in ten more than {high_h:,.0f} h."
    )
    told = [say_ratio(x, clock) for x, clock in ((at_hours, "hours"), (at_years, "years")) if x]
    text += "".join(f" {t}" for t in told if t)
    if n_unknown:
        text += f" The use of {count(n_unknown, 'life', 'lives')} is not known."
    return text


def say_ratio(x: EqualAges, clock: str) -> str:
    """Say how often the half flown less failed beside the other; blank where nothing compares."""
    if x.ratio is None or x.level is None:
        return ""
    low = "0" if x.low is None else text_number(x.low)
    high = "without limit" if x.high is None else text_number(x.high)
    limits = f"{100 * x.level:g} % limits of the ratio {low} to {high}"
    if not math.isfinite(x.ratio):
        text = f"At equal {clock} only the half flown less failed ({limits})"
    elif x.ratio == 0.0:
        text = f"At equal {clock} only the half flown more failed ({limits})"
    else:
        text = (
            f"At equal {clock} the half flown less failed {text_number(x.ratio)} times as often as "
            f"the half flown more ({limits})"
        )
    one = (x.low is None or x.low <= 1.0) and (x.high is None or x.high >= 1.0)
    return f"{text}: no difference is shown." if one else f"{text}."


def say_times(clock: WhichClock) -> str:
    """Say how much likelier the records are on the better of the two clocks."""
    times = math.exp(min(abs(clock.difference), 700.0))
    better = "hours" if clock.difference >= 0 else "years"
    more = f"more than {MOST_TIMES:,.0f}" if times > MOST_TIMES else text_number(times)
    return f"{more} times likelier on {better}"


def say_clocks(clocks: Sequence[CauseClock]) -> str:
    """Say which causes go by hours, by years or by both, and of which it cannot be told."""
    by = {
        w: [c.cause or "all causes together" for c in clocks if c.clock and c.clock.word == w]
        for w in WORDS
    }
    parts = [
        f"{listed(by[w])} {'is' if len(by[w]) == 1 else 'are'} described better by {name}"
        for w, name in (
            ("hours", "hours than by years"),
            ("years", "years than by hours"),
            ("both", "hours and years together than by either"),
        )
        if by[w]
    ]
    text = ". ".join(capital(p) for p in parts)
    text = f"{text}. " if text else ""
    if by["not-told"]:
        text += (
            f"Of {listed(by['not-told'])} these records cannot tell which clock describes "
            f"{'it' if len(by['not-told']) == 1 else 'them'} better. "
        )
    few = [c for c in clocks if c.clock is None]
    if few:
        text += (
            f"{count(len(few), 'cause')} had fewer than {FEW_FOR_SHAPE} failures, and nothing is "
            "said of "
        ) + ("it. " if len(few) == 1 else "them. ")
    return text.strip()


def caution_clock(clocks: Sequence[CauseClock]) -> list[Caution]:
    """Return a caution for each cause that goes by years, or by both clocks."""
    out = []
    for c in clocks:
        if c.clock is None or c.clock.word not in ("years", "both"):
            continue
        cause = c.cause or "all causes together"
        if c.clock.word == "years":
            value = f"log likelihood {text_number(-c.clock.difference)} higher by years"
            limit = text_number(c.clock.limit)
            out.append(caution("goes-by-years/years", value=value, limit=limit, cause=cause))
        else:
            value = f"years' share {c.clock.low:.2g} to {c.clock.high:.2g}"
            out.append(caution("goes-by-years/both", value=value, limit="0 to 1", cause=cause))
    return out
