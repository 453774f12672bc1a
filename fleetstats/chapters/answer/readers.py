"""One page for each reader: the same facts, their question first."""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.chapters.ahead import Outlook
from fleetstats.chapters.checks import CheckInterval
from fleetstats.chapters.claim import Claim, write_brochure
from fleetstats.chapters.stress import Stress
from fleetstats.core.units import text_hours
from fleetstats.document.blocks import clock_words, facts
from fleetstats.document.document import Block, Section
from fleetstats.document.population_words import say_level, say_sum_of_built
from fleetstats.document.references import point
from fleetstats.document.words import say_confidence, say_interval
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.wording import count, failures_told

Row = tuple[str, str]

READERS = ("builder", "club", "inspector")
TITLES = {
    "builder": "For the builder",
    "club": "For the club and its members",
    "inspector": "For the inspector or insurer",
}


def compose_summaries(results: Results) -> tuple[Section, ...]:
    """Return a page for each reader, the study's own reader first."""
    first = results.settings.study.reader
    order = (first, *(r for r in READERS if r != first))
    return tuple(
        Section(key=f"for-{r}", title=TITLES[r], blocks=tuple(_page(results, r))) for r in order
    )


def _page(results: Results, reader: str) -> list[Block]:
    parts = {
        "builder": (_claim, _quote, _reach, _band, _hidden, _stress, what_tells_more),
        "club": (_band, which_first, _checks, what_is_seen, _reach, what_tells_more),
        "inspector": (
            _claim,
            _hidden,
            _stress,
            _population,
            _counted,
            what_is_seen,
            _reach,
            _again,
        ),
    }[reader]
    rows = [row for part in parts for row in part(results)]
    return [facts(f"summary-{reader}", "Question and answer", rows)]


def _claim(results: Results) -> list[Row]:
    v = results.advice.verdict
    if v is None:
        return [("May an interval be claimed?", "The study names none.")]
    found = say_interval(v.reliability, 1 - v.accepted_failure)
    return [
        (f"May {text_hours(v.claimed_h)} be claimed?", v.sentence),
        (f"How many reach {text_hours(v.claimed_h)}?", f"{capital(found)}."),
    ]


def _band(results: Results) -> list[Row]:
    return [("When to overhaul?", results.advice.overhaul_band.sentence)]


def _reach(results: Results) -> list[Row]:
    return [("How far do the records reach?", results.advice.horizon.sentence)]


def _hidden(results: Results) -> list[Row]:
    v = results.advice.verdict
    if v is None:
        return []
    if v.hidden_to_turn is None:
        return [("What decided?", f"{capital(v.because)}.")]
    failures = count(v.hidden_to_turn, "unreported failure").capitalize()
    return [("What would upset it?", f"{failures} at the worst ages would turn the verdict.")]


def _stress(results: Results) -> list[Row]:
    stress = results.chapters.get("stress")
    return [("Were lives not so?", stress.sentence)] if isinstance(stress, Stress) else []


def _quote(results: Results) -> list[Row]:
    claim = results.chapters.get("claim")
    if not isinstance(claim, Claim):
        return []
    printed = write_brochure(claim, results.settings)
    return [
        ("What may be quoted?", claim.may_quote),
        ("What may be printed?", f"{printed.may} {printed.footnote}".strip()),
        ("What may not be printed?", printed.may_not),
    ]


def which_first(results: Results) -> list[Row]:
    """Say how many engines have reached the hours of planning, and which comes first by hours."""
    question = "Which engines first?"
    outlook = results.chapters.get("outlook")
    named = outlook.sentences[0] if isinstance(outlook, Outlook) else ""
    band = results.advice.overhaul_band
    low = band.plan_from.hours
    if low is None:
        text = "Hours do not say; look at condition and at engines with findings."
        return [(question, text if named.startswith("By hours") else f"{text} {named}".strip())]
    rows = results.built.rows
    if not rows:  # a table read by chunks keeps no row
        return []
    due = sum(r.count for r in rows if r.ending == "running" and r.exit_h >= low)
    there = (
        "where planning begins"
        if band.state == "answered"
        else "as far as the records carry the target"
    )
    return [
        (
            question,
            f"{count(due, 'running engine').capitalize()} in the records "
            f"{'has' if due == 1 else 'have'} reached {text_hours(low)}, {there}. A "
            f"bad sign on any engine comes before its hours. {named}".strip(),
        )
    ]


def _checks(results: Results) -> list[Row]:
    c = results.settings.check
    judged = results.chapters.get("check-interval")
    seen = (
        judged.sentences[0]
        if isinstance(judged, CheckInterval)
        else "These records do not say what the checks find."
    )
    return [
        (f"Are checks each {c.interval_h:g} h enough?", f"{results.advice.risk.sentence} {seen}")
    ]


def what_is_seen(results: Results) -> list[Row]:
    """Say how many failures, hours and engines stand behind the answer."""
    s = results.spells
    seen = failures_told(s.n_failed, s.n_left_out)
    return [
        (
            "What stands behind this?",
            f"{seen.capitalize()} in {s.exposure_h:,.0f} engine hours "
            f"({clock_words(results)}) of "
            f"{count(results.built.funnel.total.engines_used, 'engine')}.",
        )
    ]


def _population(results: Results) -> list[Row]:
    f = results.built.funnel
    built = (
        say_sum_of_built(f)
        if f.n_built
        else f"{f.total.engines_used:,} used; the study does not say how many were built"
    )
    a = results.audit
    return [
        (
            "Which engines, and how chosen?",
            f"{built}. {a.n_read:,} rows read = {a.n_used:,} used + {a.n_set_aside:,} set aside, "
            "each with its reason.",
        )
    ]


def _counted(results: Results) -> list[Row]:
    level = say_level(results.settings.question.level, unlooked=results.built.unlooked)
    return [
        (
            "What counted as failure?",
            f"{capital(level)}. Each failure and each removal on a finding is listed. "
            f"Bands are {say_confidence(results.advice.level)} at each edge.",
        )
    ]


def what_tells_more(results: Results) -> list[Row]:
    """Say what would settle whether engines wear out; where it is settled, that."""
    w = results.advice.wear_out
    if w.settle:
        return [("What would tell more?", w.settle)]
    return [("Is there wear-out?", w.sentence)]


def _again(results: Results) -> list[Row]:
    return [
        (
            "Can it be done again?",
            "Yes: the input files with their digests, every setting, the seed "
            f"{results.provenance.seed} and the versions stand in "
            f"{point('provenance', otherwise='the report')}; the command is "
            f"“{results.provenance.command}”.",
        )
    ]
