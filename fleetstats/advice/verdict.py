"""The verdict on the interval claimed today.

The rule, first line that applies:

1. ``contradicted``: the upper edge of the reliability lies below the target, at the claimed hours
   or, where they lie past the evidence, already at its end: no more engines can reach the one than
   the other.
2. ``supported``: its lower edge reaches the target, and the hours lie within the evidence (enough
   engines at risk).
3. ``hours-do-not-tell``: the whole band of the shape lies below 1, or 10 failures or more leave it
   holding 1: the risk is not seen to rise with hours, so neither this interval nor a shorter one
   follows from them.
4. ``not-yet-shown``: all else.

Each edge is a one-sided bound at the study's confidence. With fewer than 5 failures the lower edge
is the worse of the least favourable shape and the bound under the prior (`advice/quoted.py`).
"""

from __future__ import annotations

from dataclasses import replace

from fleetstats.advice.advice import Horizon, Verdict, WearOut
from fleetstats.advice.equivalents import exposure_past
from fleetstats.advice.quoted import quoted_interval
from fleetstats.advice.tipping import count_hidden
from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.core.units import text_decided
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.wording import (
    at_least,
    at_most,
    count,
    hours_exact,
    lives_of,
    one_in_at_most,
    stated,
)

ENOUGH_FOR_SHAPE = 10
"""From so many failures a shape's band that holds 1 says more than that failures are few."""


def accepted_failure(settings: Settings) -> float:
    """Return the accepted chance of failure by the claimed hours: stated, or 1 - reliability."""
    p = settings.targets.accepted_failure_at_claim
    return 1.0 - settings.targets.reliability if p is None else p


def advise_verdict(
    spells: Spells,
    fit: Fit | None,
    settings: Settings,
    wear_out: WearOut,
    horizon: Horizon,
    *,
    claimed_h: float | None = None,
) -> Verdict | None:
    """Return the verdict on the claimed interval; None when none is claimed.

    Parameters
    ----------
    spells : Spells
        Lives at risk.
    fit : Fit or None
        Weibull fit, where one exists.
    settings : Settings
        Claim, accepted failure chance, confidence.
    wear_out, horizon
        Answers (a) and (e).
    claimed_h : float, optional
        Hours to judge instead of the study's.
    """
    claim = settings.study.claimed_interval_h if claimed_h is None else claimed_h
    if claim is None:
        return None
    accepted = accepted_failure(settings)
    target = 1.0 - accepted
    r = quoted_interval(spells, fit, Quantity.reliability(claim), settings)
    past = claim > horizon.supported_h
    end = None
    if past and horizon.supported_h > 0.0:
        end = quoted_interval(spells, fit, Quantity.reliability(horizon.supported_h), settings)
    r = hold_at_end(r, end, target, horizon.supported_h)
    word, because = verdict_word(
        r, target, past=past, wear_out=wear_out, n_failed=spells.n_failed, end=end
    )
    hidden = None
    if word == "supported":
        hidden = count_hidden(spells, fit, settings, hours=claim, accepted=accepted).least
    out = Verdict(
        word=word,
        sentence="",
        claimed_h=claim,
        accepted_failure=accepted,
        reliability=r,
        exposure_past_h=exposure_past(spells, claim),
        n_reached=float(spells.at_risk(claim)[0]),
        n_engines_reached=spells.engines_at_risk(claim),
        hidden_to_turn=hidden,
        extrapolated=past,
        because=because,
    )
    return replace(out, sentence=_sentence(out, horizon))


def hold_at_end(r: Interval, end: Interval | None, target: float, supported_h: float) -> Interval:
    """Return `r` with the upper edge that it has where the evidence ends, if that edge contradicts.

    Parameters
    ----------
    r : Interval
        Reliability at the claimed hours.
    end : Interval or None
        Reliability at the end of the evidence; None where the claim lies within it.
    target : float
        Reliability accepted at the claimed hours.
    supported_h : float
        Hours at which the evidence ends.
    """
    if end is None or end.high is None or end.high >= target:
        return r
    return replace(
        r, high=end.high, note_high=f"as at {hours_exact(supported_h)}, the evidence's end"
    )


def verdict_word(
    r: Interval,
    target: float,
    *,
    past: bool,
    wear_out: WearOut,
    n_failed: float,
    end: Interval | None = None,
) -> tuple[str, str]:
    """Return the word of the verdict and what decided, by the rule at the head of this file.

    Parameters
    ----------
    r : Interval
        Reliability at the claimed hours.
    target : float
        Reliability accepted there.
    past : bool
        Whether the claimed hours lie beyond the evidence.
    wear_out : WearOut
        Answer (a).
    n_failed : float
        Failures seen.
    end : Interval, optional
        Reliability where the evidence ends, for a claim that lies beyond.
    """
    below = wear_out.state == "no-wear-out"
    holds_one = (
        n_failed >= ENOUGH_FOR_SHAPE
        and wear_out.shape is not None
        and wear_out.state == "not-shown"
    )
    if r.high is not None and r.high < target and not past:
        return "contradicted", "the upper edge of the reliability lies below the target"
    if past and end is not None and end.high is not None and end.high < target:
        return (
            "contradicted",
            "the upper edge of the reliability lies below the target where the evidence ends",
        )
    if r.low is not None and r.low >= target and not past:
        return "supported", "the lower edge of the reliability reaches the target"
    if below or holds_one:
        return "hours-do-not-tell", "the risk is not seen to rise with hours"
    if past:
        return "not-yet-shown", "the claimed hours lie beyond the evidence"
    return "not-yet-shown", "the lower edge of the reliability does not reach the target"


def _sentence(v: Verdict, horizon: Horizon) -> str:
    r, side = v.reliability, f"{50 * (1 + v.reliability.level):g} %"
    aim = f"that at most {stated(v.accepted_failure)} fail by {v.claimed_h:,.0f} h"
    seen = (
        f"{lives_of(v.n_reached, v.n_engines_reached)} reached {v.claimed_h:,.0f} h and ran "
        f"{v.exposure_past_h:,.0f} h past it"
    )
    seen = capital(seen)
    if v.word == "supported":
        high = 1.0 - (r.low or 0.0)
        text = (
            f"The records support, at one-sided {side} confidence, {aim}: the upper bound is "
            f"{at_most(high, v.accepted_failure)} ({one_in_at_most(high)}). {seen}."
        )
        if v.hidden_to_turn is not None:
            text += (
                f" {count(v.hidden_to_turn, 'unreported failure').capitalize()} would turn this "
                "into not yet shown."
            )
        return text
    if v.word == "contradicted":
        low, most = 1.0 - (r.high or 0.0), stated(v.accepted_failure)
        least = at_least(low, v.accepted_failure)
        end = hours_exact(horizon.supported_h, v.claimed_h)
        already = f" by {end} already" if v.extrapolated else ""
        return (
            f"The records contradict, at one-sided {side} confidence, {aim}: "
            f"{f'more than {most}' if least == most else f'at least {least}'} do{already}. {seen}."
        )
    if v.word == "hours-do-not-tell":
        return (
            f"Hours do not tell: {v.because}, so the records neither support nor contradict {aim}, "
            "and a shorter interval would not follow from them either."
        )
    if v.extrapolated:
        return (
            f"It is not yet shown {aim}: fewer than {horizon.enough} were at risk beyond "
            f"{hours_exact(horizon.supported_h, v.claimed_h)}, and what is computed past that is "
            "extrapolation."
        )
    bound = (
        "no lower limit" if r.low is None else f"up to {at_most(1.0 - r.low, v.accepted_failure)}"
    )
    mid = (
        ""
        if r.estimate is None
        else f" (estimated {text_decided(1.0 - r.estimate, v.accepted_failure)})"
    )
    return (
        f"It is not yet shown, at one-sided {side} confidence, {aim}: the records leave room for "
        f"{bound}{mid}. {seen}."
    )
