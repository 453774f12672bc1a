"""The claim box: what was asked, what the records say, how far they reach."""

from __future__ import annotations

from fleetstats.core.units import text_hours
from fleetstats.decide.results import Results
from fleetstats.decide.wording import at_least, count
from fleetstats.records.settings import LEVELS
from fleetstats.report.document import Block, Section
from fleetstats.report.sections.blocks import clock_words, facts, say
from fleetstats.report.sections.glossary import explain
from fleetstats.report.words import VERDICT_TEXT, say_confidence, say_interval


def compose_answer(results: Results) -> Section:
    """Return the claim box with its conditions."""
    a, s = results.advice, results.settings
    side = say_confidence(a.level)
    rows = [
        ("Question", f"{s.question.name}, counted as: {LEVELS[s.question.level]}"),
        ("Asked by", s.study.asked_by or "not said"),
        ("Clock", clock_words(results)),
        ("Population", _population(results)),
        ("Seen", _seen(results)),
        ("Confidence", f"{side} for each edge of a band; {100 * a.level:g} % between both"),
    ]
    if a.verdict is not None:
        v = a.verdict
        rows += [
            ("Claimed", f"{text_hours(v.claimed_h)} between overhauls"),
            ("Accepted", f"at most {100 * v.accepted_failure:g} % with the failure by then"),
            ("Found", f"reliability at {text_hours(v.claimed_h)}: {say_interval(v.reliability)}"),
            ("Verdict", f"{VERDICT_TEXT[v.word]}: {v.because}"),
        ]
    rows += [
        ("Overhaul band", a.overhaul_band.sentence),
        ("Reach", _reach(results)),
        ("Records to", str(s.study.analysis_date or "not said")),
    ]
    blocks = [facts("claim-box", "The claim and its conditions", rows)]
    notes: list[Block] = [
        say(a.overhaul_band.sentence, "answer"),
        explain("confidence"),
        explain("band"),
        *(say(t, "assumption") for t in _conditions(results)),
        say(a.horizon.sentence, "extrapolation"),
        explain("horizon"),
    ]
    return Section(key="answer", title="The answer and its conditions", blocks=(*blocks, *notes))


def _population(results: Results) -> str:
    f = results.built.funnel
    used = count(f.total.engines_used, "engine")
    if not f.n_built:
        return f"{used}; the study does not say how many were built"
    unknown = count(f.n_fate_unknown, "engine") + " of unknown fate"
    share = "" if f.coverage is None else f" ({100 * f.coverage:.0f} % covered)"
    return f"{used} of {f.n_built:,} built{share}; {unknown}"


def _seen(results: Results) -> str:
    s = results.spells
    lives = count(float(s.weight.sum()), "life", "lives")
    return f"{count(s.n_failed, 'failure')} in {lives} and {s.exposure_h:,.0f} engine hours"


def _reach(results: Results) -> str:
    h = results.advice.horizon
    return (
        f"to {text_hours(h.supported_h)}, the last age with {h.min_at_risk} engines at risk; the "
        f"oldest was seen to {text_hours(h.oldest_h)}"
    )


def _conditions(results: Results) -> list[str]:
    """Return the three main conditions of the answer."""
    s = results.settings
    out = [
        "Every failure of this kind was reported, and engines that left the records were neither "
        "better nor worse than those that stayed. The part on sensitivity says how many "
        "unreported failures would turn the answer.",
        "Engines of one group are alike: built, used and kept alike enough for one curve.",
    ]
    prior = s.evidence
    if results.fit is None or results.advice.method == "shape-mixture":
        out.append(
            f"The shape lies about {prior.prior_shape_median:g}, within a factor of "
            f"{_factor(prior.prior_shape_log_sd)} at 95 %, as the study's prior says "
            f"({prior.prior_source})."
        )
    else:
        out.append(
            "Life follows a Weibull curve within the ages seen; other curves are set beside it."
        )
    if s.targets.risk_per_check is None:
        out.append(
            "No accepted risk between checks is stated, so none enters the answer. No authority "
            "sets one."
        )
    target = at_least(s.targets.reliability)
    out.append(f"The study asks that {target} of engines reach overhaul without the failure.")
    return out


def _factor(log_sd: float) -> str:
    import math

    return f"{math.exp(1.96 * log_sd):.2g}"
