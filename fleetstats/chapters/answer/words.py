"""The answer in three sentences, for a person who is not a statistician.

First the claim, then the hours, then what stands behind both. Counts out of 100 in place of
probabilities; every limit says on which side it lies.
"""

from __future__ import annotations

import math

from fleetstats.advice.advice import OverhaulBand, Verdict
from fleetstats.advice.results import Results
from fleetstats.advice.verdict import say_left_out_beside
from fleetstats.chapters.origin import OriginTold
from fleetstats.core.units import side_of, text_hours
from fleetstats.vocabulary.provisos import but
from fleetstats.vocabulary.wording import count, failures_told, hours_exact


def answer_sentences(results: Results) -> tuple[str, ...]:
    """Return the sentences of the first screen: claim (where there is one), hours, evidence.

    Where names were replaced, one says so. The last says how many rows of the records
    hint at a failure, and where they were counted.
    """
    a = results.advice
    out = []
    if a.verdict is not None:
        out.append(say_verdict(a.verdict))
    out += [say_band(a.overhaul_band), say_evidence(results)]
    origin = results.chapters.get("origin")
    if isinstance(origin, OriginTold):
        out.append(origin.sentence)
    out.append(results.built.trouble.sentence)
    return tuple(out)


def in_so_many(p: float, accepted: float, *, up: bool) -> tuple[str, str]:
    """Say a bound and what is accepted as engines in the same number of engines.

    A hundred, a thousand where that is finer, or more where only that shows on which side of the
    accepted chance the bound lies. A bound is rounded to its careful side: `up` for an upper one.

    >>> in_so_many(0.1083, 0.1, up=False)
    ('108 in 1,000', '100 in 1,000')
    """
    whole = _base(p, accepted, up=up)
    return _in(p, whole, up=up), _in(accepted, whole, up=False)


def _in(p: float, whole: int, *, up: bool) -> str:
    return f"{_whole(p, whole, up=up):,} in {whole:,}"


def _whole(p: float, whole: int, *, up: bool) -> int:
    x = whole * p
    return math.ceil(x - 1e-9 * whole) if up else math.floor(x + 1e-9 * whole)


def _base(p: float, accepted: float, *, up: bool) -> int:
    """Return in how many engines a bound and what is accepted are counted.

    The accepted chance is somebody's figure, so it comes out whole, as far as a hundred thousand
    go.
    """
    whole = 100 if p >= 0.095 or p == 0.0 else 1000
    while whole < 100_000:
        told = side_of(_whole(p, whole, up=up), whole * accepted) == side_of(p, accepted)
        if told and abs(whole * accepted - round(whole * accepted)) < 1e-6:
            break
        whole *= 10
    return whole


def say_verdict(v: Verdict) -> str:
    """Say a verdict on a claimed interval in one plain sentence."""
    hours = text_hours(v.claimed_h)
    sure = f"at {50 * (1 + v.reliability.level):g} % confidence"
    low, high = v.reliability.low, v.reliability.high
    beside = say_left_out_beside(v)
    if v.word == "supported":
        most, accepted = in_so_many(1.0 - (low or 0.0), v.accepted_failure, up=True)
        return (
            f"The records support {hours}: {sure}, no more than {most} engines fail in this way "
            f"before that age, and the study accepts {accepted}{beside}{but(v.provisos, beside)}."
        )
    if v.word == "contradicted":
        p = 1.0 - (1.0 if high is None else high)
        figure, accepted = in_so_many(p, v.accepted_failure, up=False)
        least = f"at least {figure}"
        if least.endswith(f" {accepted}"):  # the same figure on both sides would be no reason
            least = f"more than {accepted}"
        return (
            f"The records contradict {hours}: {sure}, {least} engines fail in this way "
            f"before that age, and the study accepts {accepted}{beside}."
        )
    if v.word == "hours-do-not-tell":
        return (
            f"Hours do not tell: the risk is not seen to rise with hours, so neither {hours} nor a "
            f"shorter interval follows from these records{beside}."
        )
    if v.refused:
        return f"The records do not yet show {hours}: {v.because}."
    if v.extrapolated:
        return (
            f"The records do not reach {hours}: too few engines have been there, so nothing firm "
            f"can be said about that age{beside}."
        )
    if v.turned_by_left_out:
        most, accepted = in_so_many(1.0 - (low or 0.0), v.accepted_failure, up=True)
        return (
            f"The records do not yet show {hours}: of the failures that could be counted alone, no "
            f"more than {most} engines fail in this way before that age, and the study accepts "
            f"{accepted}{beside}."
        )
    figure, accepted = in_so_many(1.0 - (low or 0.0), v.accepted_failure, up=True)
    most = "any number of" if low is None else f"as many as {figure}"
    return (
        f"The records do not yet show {hours}: they leave room for {most} engines failing in this "
        f"way before that age, and the study accepts {accepted}{beside}."
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
    if b.state == "target-not-shown" and b.else_to_h is not None:
        return (
            "No age to plan overhaul from can be given, since the accepted chance between checks "
            f"is not shown even from new; the records carry the other targets up to "
            f"{text_hours(b.else_to_h)}."
        )
    if b.state == "hours-do-not-tell":
        return "No overhaul age is advised, since the risk is not seen to grow with hours."
    return "The records are too few for an overhaul age."


def say_evidence(results: Results) -> str:
    """Say what stands behind the answer and where it ends."""
    s, h = results.spells, results.advice.horizon
    engines = count(results.built.funnel.total.engines_used, "engine")
    seen = failures_told(s.n_failed, s.n_left_out)
    text = f"Behind this stand {seen} among {engines} in {s.exposure_h:,.0f} engine hours"
    end = hours_exact(h.supported_h, results.settings.study.claimed_interval_h)
    if h.supported_h <= 0:
        return f"{text}; at no age were {h.enough} watched at once."
    return f"{text}; past {end} too few were watched to say more."
