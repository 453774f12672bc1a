"""The verdict on the interval claimed today: its judgement, with what stands beside it.

The rule is the head of `advice/judge.py`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from fleetstats.advice.advice import Horizon, Verdict
from fleetstats.advice.doubts.assumed_hours import failure_high_as_read
from fleetstats.advice.doubts.prior_weight import weigh_prior
from fleetstats.advice.doubts.words import say_assumed, say_prior_weight
from fleetstats.advice.equivalents import exposure_past
from fleetstats.advice.judge import BY_COUNT, accepted_failure, judge_claim
from fleetstats.advice.left_out import say_beside, say_left_out
from fleetstats.advice.looks.at_look import at_look
from fleetstats.advice.looks.look import look_to_tell
from fleetstats.advice.looks.words import say_look
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.tipping import count_hidden
from fleetstats.core.units import text_decided
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.provisos import but, provisos_of
from fleetstats.vocabulary.wording import (
    at_least,
    at_most,
    count,
    hours_exact,
    lives_of,
    one_in_at_most,
    stated,
)


def advise_verdict(
    lives: Quoter, horizon: Horizon, *, claimed_h: float | None = None
) -> Verdict | None:
    """Return the verdict on the claimed interval; None when none is claimed.

    Parameters
    ----------
    lives : Quoter
        The fleet, with the study's claim, accepted failure chance and confidence.
    horizon : Horizon
        Answer (e).
    claimed_h : float, optional
        Hours to judge instead of the study's.
    """
    look = look_to_tell(lives.settings)
    accepted = accepted_failure(lives.settings)
    lives = at_look(lives, 1.0 - accepted)
    spells, settings = lives.spells, lives.settings
    claim = settings.study.claimed_interval_h if claimed_h is None else claimed_h
    if claim is None:
        return None
    judged = judge_claim(lives, claim, 1.0 - accepted)
    hidden = None
    if judged.word == "supported":
        hidden = count_hidden(spells, lives.fit, settings, hours=claim, accepted=accepted).least
    out = Verdict(
        word=judged.word,
        sentence="",
        claimed_h=claim,
        accepted_failure=accepted,
        reliability=judged.reliability,
        exposure_past_h=exposure_past(spells, claim),
        n_reached=float(spells.at_risk(claim)[0]),
        n_engines_reached=spells.engines_at_risk(claim),
        hidden_to_turn=hidden,
        extrapolated=judged.extrapolated,
        because=judged.because,
        with_left_out=judged.with_left_out,
        n_left_out=judged.n_left_out,
        left_out=say_left_out(spells.left_out),
        refused=judged.refused,
        prior_weight=weigh_prior(lives, claim),
        assumed_h=spells.hours_assumed,
        failure_high_as_read=failure_high_as_read(lives, claim),
        look=look,
    )
    said = [_sentence(out, horizon), *_beside(out, spells.exposure_h)]
    return replace(out, sentence=" ".join(said))


def _beside(v: Verdict, exposure_h: float) -> list[str]:
    """Say which look this is, and what was assumed does to the bound, where there are such."""
    out = []
    if v.look is not None and say_look(v.look):
        out.append(say_look(v.look))
    if v.prior_weight is not None:
        out.append(say_prior_weight(v.prior_weight, v.accepted_failure))
    if v.failure_high_as_read is not None:
        out.append(say_assumed(exposure_h, v.assumed_h, v.failure_high_as_read, v.accepted_failure))
    return out


def qualify_verdict(v: Verdict, horizon: Horizon, cautions: Iterable[Caution]) -> Verdict:
    """Return a verdict with what `cautions` leave open; "supported" says it in its sentence."""
    qualified = replace(v, provisos=provisos_of(cautions))
    beside = v.sentence[len(_sentence(v, horizon)) :]
    return replace(qualified, sentence=_sentence(qualified, horizon) + beside)


def _sentence(v: Verdict, horizon: Horizon) -> str:
    r, side = v.reliability, f"{50 * (1 + v.reliability.level):g} %"
    aim = f"that at most {stated(v.accepted_failure)} fail by {v.claimed_h:,.0f} h"
    seen = (
        f"{lives_of(v.n_reached, v.n_engines_reached)} reached {v.claimed_h:,.0f} h and ran "
        f"{v.exposure_past_h:,.0f} h past it"
    )
    seen = capital(seen)
    beside = say_left_out_beside(v)
    if v.word == "supported":
        high = 1.0 - (r.low or 0.0)
        text = (
            f"The records support, at one-sided {side} confidence, {aim}: the upper bound is "
            f"{at_most(high, v.accepted_failure)} ({one_in_at_most(high)}){beside}"
            f"{but(v.provisos, beside)}. {seen}."
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
        already = f" by {end} already" if v.extrapolated and v.because != BY_COUNT else ""
        return (
            f"The records contradict, at one-sided {side} confidence, {aim}: "
            f"{f'more than {most}' if least == most else f'at least {least}'} do{already}{beside}. "
            f"{seen}."
        )
    if v.word == "hours-do-not-tell":
        return (
            f"Hours do not tell: {v.because}, so the records neither support nor contradict {aim}, "
            f"and a shorter interval would not follow from them either{beside}."
        )
    if v.refused:
        return f"It is not yet shown, at one-sided {side} confidence, {aim}: {v.because}. {seen}."
    if v.extrapolated:
        return (
            f"It is not yet shown {aim}: fewer than {horizon.enough} were at risk beyond "
            f"{hours_exact(horizon.supported_h, v.claimed_h)}, and what is computed past that is "
            f"extrapolation{beside}."
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
        f"{bound}{mid}{beside}. {seen}."
    )


def say_left_out_beside(v: Verdict) -> str:
    """Say the bound that counts the failures left out, to follow the other; blank without any.

    Past the evidence no bound is said, but the failures are.
    """
    high = v.failure_high_with_left_out
    if high is None:
        return ""
    if v.extrapolated or v.word == "hours-do-not-tell":
        return f"; {v.left_out} and {'is' if v.n_left_out == 1 else 'are'} in none of this"
    return f"; {say_beside(v.left_out, v.n_left_out, high, v.accepted_failure)}"
