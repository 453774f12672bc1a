"""What is said of the weakest points, for a reader who is no statistician: 30 words at most."""

from __future__ import annotations

import datetime as dt

from fleetstats.advice.advice import VERDICTS, Horizon, Verdict
from fleetstats.chapters.groups import InfluenceLine
from fleetstats.chapters.removals import RemovalKind, kind_words
from fleetstats.core.units import text_decided, text_number
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.wording import (
    NOT_LIKELY_TO_SHOW,
    at_least,
    at_most,
    count,
    hours_exact,
    stated,
)

SCALE = (
    "How much of the way from the bound found to the accepted chance each covers, counted in "
    "factors of the risk; 100 % or more covers all of it. Those that by themselves turn the "
    "verdict, or keep it from being turned, stand first; those that come of few engines or hours "
    "alone, last."
)


def hidden_words(turn: int, likely: int) -> str:
    """Say how many unreported failures turn the claim, and how many are probable."""
    text = f"{capital(count(turn, 'unreported failure'))} would leave the claim no longer shown"
    if likely:
        return f"{text}; overlapping sources leave room for {likely:,}."
    return f"{text}; how many there are, the records cannot say."


def rate_words(allowed: float, needed: float) -> str:
    """Say what share of failures a public rate lets be reported, and what the claim needs."""
    text = (
        f"If both count the same, the public rate allows at most {at_most(allowed, needed)} of "
        "failures to be reported"
    )
    if needed >= 1.0:
        return f"{text}; the claim is not shown even if all were."
    return f"{text} while the claim needs {at_most(needed, allowed)}."


def carried_words(x: InfluenceLine) -> str:
    """Say which source, build or engine carries the answer."""
    kind = f"{x.kind} {x.name}" if x.kind == "engine" else (
        f"the {count(x.n_out, 'engine')} of {x.kind} {x.name} ({x.n_failed_out:,.0f} failed)"
    )  # fmt: skip
    many = "another one" if x.n_out == 1 else "as many"
    chance = "" if x.carries else f"; losing {many} at random could do so too"
    return f"Without {kind} the claim is {VERDICTS[x.figure.verdict]}{chance}."


def source_words(bound: float, v: Verdict, *, least: bool) -> str:
    """Say the bound for an engine from another source."""
    return f"Of engines from another source like these, {_bound(bound, v, least)}{_beside(v)}."


def removal_words(k: RemovalKind, v: Verdict) -> str:
    """Say what removals that come with age would do as failures."""
    text = f"{capital(kind_words(k))} come with age, as failures do"
    if k.to_turn is not None:
        return f"{text}; if {k.to_turn:,} of them were failures, the claim is no longer shown."
    return f"{text}; were all of them failures, {_most(k.failure_high_all or 0.0, v)}."


def left_out_words(v: Verdict, high: float) -> str:
    """Say the bound with the failures that no life counts."""
    return f"{capital(v.left_out)}; counted at the worst ages, {_most(high, v)}{_beside(v)}."


def assumed_words(v: Verdict, high: float) -> str:
    """Say the bound without hours that nobody read."""
    return f"Without the {v.assumed_h:,.0f} h that nobody read, {_most(high, v)}{_beside(v)}."


def shape_words(v: Verdict, alone: float, *, least: bool) -> str:
    """Say the bound without what is assumed of the shape."""
    text = "How the risk grows with hours is assumed; by the records alone"
    return f"{text} {_bound(alone, v, least)}{_beside(v)}."


def rise_words(v: Verdict, day: dt.date, high: float) -> str:
    """Say the bound from what came after the day on which the rate rose."""
    return (
        f"The failure rate at equal ages rose from {day} on; counting only what came after, "
        f"{_most(high, v)}{_beside(v)}."
    )


def since_words(v: Verdict, day: dt.date, high: float) -> str:
    """Say the bound from what came after a day from which on no rise is shown."""
    return (
        f"Counting only what came after {day}, fewer hours tell: {_most(high, v)}{_beside(v)}; "
        "no rise is shown."
    )


def looks_words(v: Verdict, n: int, bound: float, *, least: bool) -> str:
    """Say the bound with the error held over the looks made."""
    return (
        f"The records were looked at {n} times; with the error held over all of them, "
        f"{_bound(bound, v, least)}{_beside(v)}."
    )


def counted_words(k: int, n_failed: float, v: Verdict) -> str:
    """Say how many failures, were they none, leave the claim contradicted no more."""
    return (
        f"If about {k:,} of the {count(round(n_failed, 1), 'failure')} counted were none of those "
        f"in question, the records would no longer contradict {v.claimed_h:,.0f} h."
    )


def little_words(v: Verdict, bound: float, estimate: float | None) -> str:
    """Say that too little was run for the bound to reach the accepted chance."""
    text = f"By these records {_most(bound, v)}{_beside(v)}"
    if estimate is None:
        return f"{text}: too few engine hours were run."
    p = text_decided(estimate, v.accepted_failure)
    return f"{text}; the estimate is {p}: too few engine hours were run."


def curve_words(low_h: float, high_h: float, seen: float, due: float) -> str:
    """Say where the failures contradict the fitted curve."""
    return (
        f"Between {low_h:,.0f} and {high_h:,.0f} h {count(seen, 'engine')} failed where the fitted "
        f"curve expects {text_number(due, digits=2)}: the curve is doubtful."
    )


def estimate_words(v: Verdict, estimate: float) -> str:
    """Say that the estimate exceeds the accepted chance."""
    p = text_decided(estimate, v.accepted_failure)
    return (
        f"The estimate of failures by {v.claimed_h:,.0f} h ({p}) exceeds the accepted "
        f"{stated(v.accepted_failure)}: {NOT_LIKELY_TO_SHOW}."
    )


def reach_words(v: Verdict, h: Horizon) -> str:
    """Say where the evidence ends before the claim."""
    return (
        f"Fewer than {h.enough} were at risk past {hours_exact(h.supported_h, v.claimed_h)}, and "
        f"the claim is {v.claimed_h:,.0f} h."
    )


def weakest_sentence(n: int, n_decide: int, *, claimed: bool) -> str:
    """Say how many points are shown, and how many of them decide by themselves."""
    if not claimed:
        return "No hours are claimed, so nothing is weighed against a verdict."
    if not n:
        return "No weak point with a number was found; that does not show that there is none."
    text = f"{capital(count(n, 'point'))} that the verdict hangs on most, by what moves it most"
    if not n_decide:
        return f"{text}; none of them turns it by itself."
    if n == 1:
        return f"{text}; it decides by itself."
    decide = "all decide" if n_decide == n else f"{n_decide} decide" + "s" * (n_decide == 1)
    return f"{text}; {decide} by {'itself' if n_decide == 1 else 'themselves'}."


def _bound(p: float, v: Verdict, least: bool) -> str:
    if least:
        return f"at least {at_least(p, v.accepted_failure)} fail by {v.claimed_h:,.0f} h"
    return _most(p, v)


def _most(high: float, v: Verdict) -> str:
    return f"at most {at_most(high, v.accepted_failure)} fail by {v.claimed_h:,.0f} h"


def _beside(v: Verdict) -> str:
    return f", where {stated(v.accepted_failure)} is accepted"
