"""The one rule by which a claim of hours is judged; every printed verdict word comes from here.

A claim is that at most an accepted share of engines meets the failure by some hours. The rule,
first line that applies:

1. ``contradicted``: the upper edge of the reliability lies below the target, at the claimed hours
   or, where they lie past the evidence, already at its end: no more engines can reach the one than
   the other. Where the failures counted by the claimed hours alone leave too few engines
   (`bands/counted.py`), that needs no evidence of others: so a small source is contradicted as a
   fleet is.
2. ``supported``: its lower edge reaches the target, and the hours lie within the evidence (enough
   engines at risk). Where failures stand in the records and in no spell, it must reach the target
   with these at the ages that they can have too (`advice/left_out.py`); if it does not, the word is
   ``not-yet-shown``, whatever the shape.
3. ``hours-do-not-tell``: the whole band of the shape lies below 1, or 10 failures or more leave it
   holding 1: the risk is not seen to rise with hours, so neither this interval nor a shorter one
   follows from them.
4. ``not-yet-shown``: all else.

A word of line 1 or 2 is refused, and becomes ``not-yet-shown``, where `advice/doubts/doubt.py`
finds a doubt: the estimate outside its own band, a bound that a stated assumption on the shape
makes and not the records, or support that hangs on hours which nobody read. Support is refused,
too, where the rate is shown to have risen over the calendar and the hours since then, judged by the
same rule, do not carry it (`advice/doubts/rate_rose.py`).

Each edge is a one-sided bound at the study's confidence, or where several looks are planned at
what is left for this one (`advice/looks/`), and it is the edge that is quoted
(`advice/quoted.py`), for the whole fleet, for a build, for a source and for what is left when one
is left out. That is the honest choice of the two that offer themselves. A group could instead be
judged by known-shape bounds alone; but those never contradict anything, they assume a range of
shapes that the group's own failures may rule out, and so the same engines would be called open in
one table and contradicted in the next. Contradiction comes first, because engines that fail too
often are not made good by anything else; the third line takes nothing from it, since it can only
replace a "not yet shown". Hours past the evidence are no word of their own: they are a reason why
nothing is shown (`Judgement.extrapolated`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fleetstats.advice.doubts.doubt import find_doubt
from fleetstats.advice.doubts.rate_rose import RATE_ROSE, knows_rise, since_rise
from fleetstats.advice.doubts.values import Doubt
from fleetstats.advice.left_out import (
    reaches_with_left_out,
    say_further,
    say_left_out,
    with_left_out,
)
from fleetstats.advice.looks.at_look import at_look
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.wear_out import weigh_shape
from fleetstats.bands.counted import COUNTED
from fleetstats.bands.interval import Interval, no_better
from fleetstats.bands.quantity import Quantity
from fleetstats.core import arguments
from fleetstats.core.errors import SettingError
from fleetstats.core.value import Value, value
from fleetstats.spells.left_out import LeftOut
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.limits import ENOUGH_FOR_SHAPE
from fleetstats.vocabulary.wording import hours_exact

BY_COUNT = "more failed by the claimed hours than the accepted share allows, engines counted"
"""Why a claim past the evidence is contradicted at the claimed hours, and not at its end."""


@value
class Judgement(Value):
    """What the records say of one claim.

    Parameters
    ----------
    word : str
        A key of `advice.advice.VERDICTS`.
    because : str
        What decided.
    hours, target : float
        Claimed hours, and the reliability accepted there.
    reliability : Interval
        Chance of reaching the claimed hours, as quoted; its upper edge is that of `end` where that
        contradicts already.
    reach_h : float
        Hours at which the evidence ends.
    end : Interval or None
        Reliability there, for a claim that lies beyond.
    with_left_out : Interval or None
        Lower edge of `reliability` with the failures that no spell counts; None where all count.
    n_left_out : int
        How many those are.
    refused : str
        Code of the doubt for which a word of the bounds was refused; blank where none was.
    """

    word: str
    because: str
    hours: float
    target: float
    reliability: Interval
    reach_h: float
    end: Interval | None = None
    with_left_out: Interval | None = None
    n_left_out: int = 0
    refused: str = ""

    @property
    def extrapolated(self) -> bool:
        """Return whether the claimed hours lie beyond the evidence."""
        return self.hours > self.reach_h

    @property
    def failure_high(self) -> float:
        """Return the upper bound of the chance of failure by the claimed hours; 1 without one."""
        return 1.0 - (self.reliability.low or 0.0)

    @property
    def failure_high_with_left_out(self) -> float | None:
        """Return the same bound with the failures that no spell counts; None where all count."""
        return None if self.with_left_out is None else 1.0 - (self.with_left_out.low or 0.0)

    @property
    def failure_low(self) -> float:
        """Return its lower bound, past the evidence that at its end; 0 without one."""
        at_end = self.extrapolated and self.because != BY_COUNT
        edge = self.end if at_end else self.reliability
        return 0.0 if edge is None or edge.high is None else 1.0 - edge.high


def accepted_failure(settings: Settings) -> float:
    """Return the accepted chance of failure by the claimed hours: stated, or 1 - reliability."""
    p = settings.targets.accepted_failure_at_claim
    return 1.0 - settings.targets.reliability if p is None else p


def claim_asked(
    settings: Settings, hours: float | None, reliability: float | None
) -> tuple[float, float]:
    """Return claimed hours and the reliability asked there: as given, else the study's.

    Raises
    ------
    ArgumentError
        If hours or reliability are impossible.
    SettingError
        If no hours are given anywhere.
    """
    hours = settings.study.claimed_interval_h if hours is None else hours
    if hours is None:
        raise SettingError(
            "No hours are claimed.", "Set study.claimed_interval_h or give hours above 0."
        )
    hours = arguments.hours(hours, "hours", zero=False)
    target = 1.0 - accepted_failure(settings) if reliability is None else reliability
    return hours, arguments.probability(target, "reliability")


def is_shown(low: float | None, target: float, *, extrapolated: bool) -> bool:
    """Return whether one lower edge of the reliability supports a claim: line 2 of the rule."""
    return low is not None and low >= target and not extrapolated


def is_supported(lives: Quoter, hours: float, target: float) -> bool:
    """Return whether the word of `judge_claim` is "supported", without what else it tells."""
    if hours > lives.reach_h:
        return False
    lives = at_look(lives, target)
    what = Quantity.reliability(hours)
    r = lives.interval(what)
    if not is_shown(r.low, target, extrapolated=False):
        return False
    if _doubt(lives, "supported", hours, target, r) is not None:
        return False
    return reaches_with_left_out(lives, what, target)


def judge_claim(lives: Quoter, hours: float, target: float) -> Judgement:
    """Return what one fleet's records say of a claim.

    Parameters
    ----------
    lives : Quoter
        The fleet, or the part of one, with the study's settings.
    hours, target : float
        Claimed hours, and the reliability accepted there.
    """
    return judge_claims(lives, [hours], target)[0]


def judge_claims(
    lives: Quoter,
    hours: Sequence[float],
    target: float,
    *,
    fewer: Sequence[Judgement] | None = None,
) -> list[Judgement]:
    """Return the judgements of several claims, by the rule at the head of this file.

    Parameters
    ----------
    lives : Quoter
        The fleet.
    hours : sequence of float
        Claimed hours.
    target : float
        Reliability accepted at each.
    fewer : sequence of Judgement, optional
        The same claims with fewer unreported failures: no edge is better than theirs, so that a
        number of them reads as "up to so many".
    """
    lives = at_look(lives, target)
    reach = lives.reach_h
    end = None
    if 0.0 < reach < max(hours):
        end = lives.interval(Quantity.reliability(reach))
        before = [] if fewer is None else [f.end for f in fewer if f.end is not None]
        end = no_better(end, before[0]) if before else end
    state = ""
    out = []
    for i, h in enumerate(hours):
        end_here = end if h > reach else None
        own = lives.interval(Quantity.reliability(h))
        held = with_left_out(lives, Quantity.reliability(h), own=own)
        r = hold_at_end(own, end_here, target, reach)
        if fewer is not None:
            r = no_better(r, fewer[i].reliability)
            before_held = fewer[i].with_left_out
            held = held if held is None or before_held is None else no_better(held, before_held)
        word, because = _by_bounds(r, end_here, target, extrapolated=h > reach)
        refused, counted = "", lives.counted_high(h)
        if counted < target:
            if not word:
                word, because = "contradicted", BY_COUNT
                r = replace(r, high=counted, note_high=COUNTED)
        elif word:
            at, there = (h, r) if end_here is None else (reach, end_here)
            doubt = _doubt(lives, word, at, target, there)
            if doubt is not None:
                word, because, refused = "not-yet-shown", doubt.because, doubt.code
        else:
            state = state or weigh_shape(lives)[0]
            word, because = _by_shape(state, lives.spells.n_failed, extrapolated=h > reach)
        if word == "supported" and held is not None:
            word, because = _with_left_out(held, target, lives.spells.left_out)
        out.append(
            Judgement(
                word=word, because=because, hours=h, target=target, reliability=r, reach_h=reach,
                end=end_here, with_left_out=held, n_left_out=lives.spells.n_left_out,
                refused=refused,
            )
        )  # fmt: skip
    return out


def judge_another(whole: Judgement, *, low: float, high: float) -> Judgement:
    """Return the judgement of a claim for engines that are like those in the records, no more.

    Such as an engine of a source not yet seen: all doubt of the records is doubt of it too, so that
    its edges are the wider of both, and no word is firmer than that on the records.

    Parameters
    ----------
    whole : Judgement
        Of the engines in the records.
    low, high : float
        Edges of the other engines' chance of reaching the claimed hours; of `high` that of reaching
        the end of the evidence, where it comes first.
    """
    r = whole.reliability
    wider = replace(
        r,
        low=None if r.low is None else min(r.low, low),
        high=None if r.high is None else max(r.high, high),
    )
    out = replace(whole, reliability=wider, end=wider if whole.extrapolated else None)
    if whole.word == "contradicted" and wider.high is not None and wider.high < whole.target:
        return out
    if whole.word == "supported" and is_shown(wider.low, whole.target, extrapolated=False):
        if not whole.n_left_out:
            return out
        why = "failures stand in no spell, and the spread of those not seen cannot count them"
        return replace(out, word="not-yet-shown", because=why)
    if whole.word in ("contradicted", "supported"):
        why = "the edges are too wide for engines that are like those in the records, no more"
        return replace(out, word="not-yet-shown", because=why)
    return out


def hold_at_end(r: Interval, end: Interval | None, target: float, reach_h: float) -> Interval:
    """Return `r` with the upper edge that it has where the evidence ends, if that edge contradicts.

    Parameters
    ----------
    r : Interval
        Reliability at the claimed hours.
    end : Interval or None
        Reliability at the end of the evidence; None where the claim lies within it.
    target : float
        Reliability accepted at the claimed hours.
    reach_h : float
        Hours at which the evidence ends.
    """
    if end is None or end.high is None or end.high >= target:
        return r
    return replace(r, high=end.high, note_high=f"as at {hours_exact(reach_h)}, the evidence's end")


def _doubt(lives: Quoter, word: str, hours: float, target: float, r: Interval) -> Doubt | None:
    """Return why a claim must not be called by a word of the bounds; None where it may."""
    found = find_doubt(lives, word, hours, target, r)
    if found is not None or word != "supported" or not knows_rise(lives):
        return found
    later = since_rise(lives)
    shown = later is not None and is_supported(later, hours, target)
    return None if shown else RATE_ROSE


def _by_bounds(
    r: Interval, end: Interval | None, target: float, *, extrapolated: bool
) -> tuple[str, str]:
    """Return the word of lines 1 and 2 and what decided; blank where neither applies."""
    if not extrapolated and r.high is not None and r.high < target:
        return "contradicted", "the upper edge of the reliability lies below the target"
    if extrapolated and end is not None and end.high is not None and end.high < target:
        return (
            "contradicted",
            "the upper edge of the reliability lies below the target where the evidence ends",
        )
    if is_shown(r.low, target, extrapolated=extrapolated):
        return "supported", "the lower edge of the reliability reaches the target"
    return "", ""


def _with_left_out(held: Interval, target: float, left_out: tuple[LeftOut, ...]) -> tuple[str, str]:
    """Return the word of a claim supported without the failures left out, and what decided."""
    if is_shown(held.low, target, extrapolated=False):
        return "supported", (
            f"the lower edge of the reliability reaches the target, also counting "
            f"{say_further(left_out)}"
        )
    return "not-yet-shown", (
        f"{say_left_out(left_out)}, and with them at the ages that they can have the lower edge "
        "of the reliability does not reach the target"
    )


def _by_shape(state: str, n_failed: float, *, extrapolated: bool) -> tuple[str, str]:
    """Return the word of lines 3 and 4 and what decided, from the state of wear-out."""
    holds_one = state == "not-shown" and n_failed >= ENOUGH_FOR_SHAPE
    if state == "no-wear-out" or holds_one:
        return "hours-do-not-tell", "the risk is not seen to rise with hours"
    if extrapolated:
        return "not-yet-shown", "the claimed hours lie beyond the evidence"
    return "not-yet-shown", "the lower edge of the reliability does not reach the target"
