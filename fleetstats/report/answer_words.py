"""The answer in three sentences, for a person who is not a statistician.

First the claim, then the hours, then what stands behind both. Counts out of 100 in place of
probabilities; every limit says on which side it lies.
"""

from __future__ import annotations

import math

from fleetstats.core.units import text_hours
from fleetstats.decide.advice import OverhaulBand, Verdict
from fleetstats.decide.results import Results
from fleetstats.decide.wording import count


def answer_sentences(results: Results) -> tuple[str, ...]:
    """Return the sentences of the first screen: claim (where there is one), hours, evidence."""
    a = results.advice
    out = []
    if a.verdict is not None:
        out.append(say_verdict(a.verdict))
    out += [say_band(a.overhaul_band), say_evidence(results)]
    return tuple(out)


def in_hundred(p: float, *, up: bool) -> str:
    """Say a chance as engines in a hundred, or in a thousand where that is finer.

    Bounds are rounded to their careful side: `up` for upper, down for lower ones.
    """
    whole = 100 if p >= 0.095 or p == 0.0 else 1000
    x = whole * p
    n = math.ceil(x - 1e-9) if up else math.floor(x + 1e-9)
    return f"{n:,} in {whole:,}"


def say_verdict(v: Verdict) -> str:
    """Say a verdict on a claimed interval in one plain sentence."""
    hours = text_hours(v.claimed_h)
    accepted = in_hundred(v.accepted_failure, up=False)
    sure = f"at {50 * (1 + v.reliability.level):g} % confidence"
    low, high = v.reliability.low, v.reliability.high
    if v.word == "supported":
        most = in_hundred(1.0 - (low or 0.0), up=True)
        return (
            f"The records support {hours}: {sure}, no more than {most} engines fail in this way "
            f"before that age, and the study accepts {accepted}."
        )
    if v.word == "contradicted":
        p = 1.0 - (1.0 if high is None else high)
        least = f"at least {in_hundred(p, up=False)}"
        if least.endswith(f" {accepted}"):  # the same figure on both sides would be no reason
            least = f"more than {accepted}"
        return (
            f"The records contradict {hours}: {sure}, {least} engines fail in this way "
            f"before that age, and the study accepts {accepted}."
        )
    if v.word == "hours-do-not-tell":
        return (
            f"Hours do not tell: the risk is not seen to rise with hours, so neither {hours} nor a "
            "shorter interval follows from these records."
        )
    if v.extrapolated:
        return (
            f"The records do not reach {hours}: too few engines have been there, so nothing firm "
            "can be said about that age."
        )
    most = "any number" if low is None else f"as many as {in_hundred(1.0 - low, up=True)}"
    return (
        f"The records do not yet show {hours}: they leave room for {most} engines failing in this "
        f"way before that age, and the study accepts {accepted}."
    )


def say_band(b: OverhaulBand) -> str:
    """Say the overhaul band in one plain sentence, and which failures it counts if not all."""
    return f"{_band_sentence(b)} {b.counted}".rstrip()


def _band_sentence(b: OverhaulBand) -> str:
    low, middle, high = b.plan_from.hours, b.expect_at.hours, b.not_beyond.hours
    if b.state == "answered" and low is not None and low == high:
        return (
            f"Overhaul may be considered for review at {text_hours(low)}, and past that age these "
            "records speak for no engine without evidence of its own."
        )
    if b.state == "answered" and low is not None and high is not None:
        expect = (
            f", is to be expected at about {text_hours(middle)}," if middle is not None else ","
        )
        return (
            f"Overhaul may be considered for review from {text_hours(low)}{expect} and past "
            f"{text_hours(high)} these records speak for no engine without evidence of its own."
        )
    if b.state == "evidence-limit" and low is not None:
        return (
            f"No overhaul age can be given, since wear-out is not shown; what the records carry is "
            f"the study's target up to {text_hours(low)}, and nothing firm beyond."
        )
    if b.state == "hours-do-not-tell":
        return "No overhaul age is advised, since the risk is not seen to grow with hours."
    return "The records are too few for an overhaul age."


def say_evidence(results: Results) -> str:
    """Say what stands behind the answer and where it ends."""
    s, h = results.spells, results.advice.horizon
    engines = count(results.built.funnel.total.engines_used, "engine")
    seen = count(s.n_failed, "failure")
    text = f"Behind this stand {seen} among {engines} in {s.exposure_h:,.0f} engine hours"
    if h.supported_h <= 0:
        return f"{text}; at no age were {h.min_at_risk} engines watched at once."
    return f"{text}; past {text_hours(h.supported_h)} too few engines were watched to say more."
