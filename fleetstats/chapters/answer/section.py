"""The claim box: what was asked, what the records say, how far they reach."""

from __future__ import annotations

from fleetstats.advice.advice import Verdict
from fleetstats.advice.looks.words import say_rule
from fleetstats.advice.results import Results
from fleetstats.advice.verdict import say_left_out_beside
from fleetstats.chapters.clock_doubt import ClockDoubt
from fleetstats.chapters.decision import NOT_CHOSEN, end_rows
from fleetstats.chapters.origin import OriginTold
from fleetstats.chapters.sources import Sources, side_rows
from fleetstats.chapters.stress import Stress
from fleetstats.core.units import text_hours
from fleetstats.document.blocks import clock_words, facts, say
from fleetstats.document.document import Block, Section
from fleetstats.document.glossary import explain
from fleetstats.document.population_words import say_level, say_sum_of_built
from fleetstats.document.words import VERDICT_TEXT, say_confidence, say_interval
from fleetstats.vocabulary.limits import FEW_FOR_TWO
from fleetstats.vocabulary.wording import count, failures_told, hours_exact, lives_of, stated


def compose_answer(results: Results) -> Section:
    """Return the claim box with its conditions."""
    a, s = results.advice, results.settings
    side = say_confidence(a.level)
    rows = [
        ("Question", f"{s.question.name}, counted as: {_level(results)}"),
        ("Asked by", s.study.asked_by or "not said"),
        *_names(results),
        ("Clock", clock_words(results)),
        ("Population", _population(results)),
        ("Seen", _seen(results)),
        ("Confidence", f"{side} for each edge of a band; {100 * a.level:g} % between both"),
    ]
    if a.verdict is not None:
        v = a.verdict
        rows += [
            ("Claimed", f"{text_hours(v.claimed_h)} between overhauls"),
            ("Accepted", accepted_words(results, v)),
            (
                "Found",
                f"reliability at {text_hours(v.claimed_h)}: "
                f"{say_interval(v.reliability, 1 - v.accepted_failure)}",
            ),
            *_look(v),
            *_with_left_out(v),
            ("Verdict", f"{VERDICT_TEXT[v.word]}{v.open_matters}: {v.because}"),
        ]
    sources = results.chapters.get("sources")
    if isinstance(sources, Sources):
        rows += side_rows(sources)
    clocks = results.chapters.get("clock-doubt")
    if isinstance(clocks, ClockDoubt):
        rows.append(("Clocks in doubt", clocks.sentence))
    stress = results.chapters.get("stress")
    if isinstance(stress, Stress):
        rows.append(("Were lives not so", stress.sentence))
    rows += [
        ("Overhaul band", a.overhaul_band.sentence),
        ("Reach", _reach(results)),
        ("Records to", str(s.study.analysis_date or "not said")),
        *end_rows(results),
        *(
            ("Provided that" if i == 0 else "and that", t)
            for i, t in enumerate(_conditions(results))
        ),
    ]
    blocks: tuple[Block, ...] = (
        explain("confidence"),
        explain("band"),
        explain("horizon"),
        facts("claim-box", "What was asked, what is found, on what conditions", rows),
        say(a.horizon.sentence, "extrapolation"),
    )
    return Section(key="answer", title="The answer and its conditions", blocks=blocks)


def accepted_words(results: Results, v: Verdict) -> str:
    """Say which chance is accepted by the claimed hours, and who chose it, as a role."""
    keys = ("targets.accepted_failure_at_claim", "targets.reliability")
    who = results.settings.study.decided_by
    if not results.study.chosen.isdisjoint(keys):
        said = f"chosen by {who}" if who else "chosen by the study; by whom is not said"
    else:
        said = f"the default, taken by {who}" if who else NOT_CHOSEN
    return f"at most {100 * v.accepted_failure:g} % with the failure by then ({said})"


def _names(results: Results) -> list[tuple[str, str]]:
    told = results.chapters.get("origin")
    return [("Names", told.sentence)] if isinstance(told, OriginTold) else []


def _population(results: Results) -> str:
    f = results.built.funnel
    used = count(f.total.engines_used, "engine")
    if not f.n_built:
        return f"{used}; the study does not say how many were built"
    share = "" if f.coverage is None else f" ({100 * f.coverage:.0f} % covered)"
    return f"{used} of {f.n_built:,} built{share}; {say_sum_of_built(f)}"


def _level(results: Results) -> str:
    return say_level(results.settings.question.level, unlooked=results.built.unlooked)


def _seen(results: Results) -> str:
    s = results.spells
    lives = lives_of(float(s.weight.sum()), results.built.funnel.total.engines_used)
    seen = failures_told(s.n_failed, s.n_left_out)
    return f"{seen} among {lives} in {s.exposure_h:,.0f} engine hours"


def _look(v: Verdict) -> list[tuple[str, str]]:
    """Say which look this is, where there are several."""
    told = "" if v.look is None else say_rule(v.look)
    return [("Looks", told)] if told else []


def _with_left_out(v: Verdict) -> list[tuple[str, str]]:
    """Return the row of the bound that counts failures left out; none where none is."""
    said = say_left_out_beside(v).removeprefix("; ")
    return [("Beside it", said)] if said else []


def _reach(results: Results) -> str:
    h = results.advice.horizon
    end = hours_exact(h.supported_h, results.settings.study.claimed_interval_h)
    return (
        f"to {end}, the last age with {h.enough} at risk; the "
        f"{'oldest' if h.counts_engines else 'longest life'} was seen to {text_hours(h.oldest_h)}"
    )


def _conditions(results: Results) -> list[str]:
    """Return the three main conditions of the answer."""
    s = results.settings
    out = [
        "every failure of this kind was reported, and engines that left the records were neither "
        "better nor worse than those that stayed",
        "the engines are alike enough, in build, use and care, for one curve",
    ]
    prior = s.evidence
    if results.spells.n_failed < FEW_FOR_TWO:
        out.append(
            f"the shape lies about {prior.prior_shape_median:g}, within a factor of "
            f"{_factor(prior.prior_shape_log_sd)} at 95 %, as the study's prior says "
            f"({prior.prior_source})"
        )
    elif results.fit is not None:
        out.append("life follows a Weibull curve within the ages seen; others are set beside it")
    target = stated(s.targets.reliability)
    out.append(f"{target} of engines reaching overhaul is what the reader asks for")
    return out


def _factor(log_sd: float) -> str:
    import math

    return f"{math.exp(1.96 * log_sd):.2g}"
