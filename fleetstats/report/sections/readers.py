"""One page for each reader: the same facts, their question first."""

from __future__ import annotations

from fleetstats.core.units import text_hours
from fleetstats.decide.results import Results
from fleetstats.decide.wording import count
from fleetstats.report.document import Block, Section
from fleetstats.report.sections.blocks import clock_words, say
from fleetstats.report.words import VERDICT_TEXT, say_confidence, say_interval

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
        "builder": (_claim, _reach, _band, _hidden, _next),
        "club": (_band, _first, _checks, _seen, _reach, _next),
        "inspector": (_claim, _hidden, _population, _counted, _reach, _again),
    }[reader]
    out: list[Block] = []
    for part in parts:
        out += part(results)
    return out


def _claim(results: Results) -> list[Block]:
    v = results.advice.verdict
    if v is None:
        return [say("May an interval be claimed? The study names none. " + _band_text(results))]
    return [
        say(
            f"May {text_hours(v.claimed_h)} be claimed? {VERDICT_TEXT[v.word]}. {v.sentence}",
            "answer",
        ),
        say(f"Reliability at {text_hours(v.claimed_h)}: {say_interval(v.reliability)}."),
    ]


def _band_text(results: Results) -> str:
    return results.advice.overhaul_band.sentence


def _band(results: Results) -> list[Block]:
    return [say(f"When to overhaul? {_band_text(results)}", "answer")]


def _reach(results: Results) -> list[Block]:
    return [say(f"How far do the records reach? {results.advice.horizon.sentence}",
                "extrapolation")]  # fmt: skip


def _hidden(results: Results) -> list[Block]:
    v = results.advice.verdict
    if v is None:
        return []
    if v.hidden_to_turn is not None:
        text = (
            f"What would upset it? {count(v.hidden_to_turn, 'unreported failure')} at the worst "
            "ages would turn the verdict."
        )
    else:
        text = f"What decided? {v.because[0].upper() + v.because[1:]}."
    return [say(text, "caution")]


def _first(results: Results) -> list[Block]:
    low = results.advice.overhaul_band.plan_from.hours
    if low is None:
        return [
            say(
                "Which engines first? Hours do not say; look at condition and at engines with "
                "findings.",
                "missing",
            )
        ]
    rows = results.built.rows
    due = sum(r.count for r in rows if r.ending == "running" and r.exit_h >= low)
    return [
        say(
            f"Which engines first? {count(due, 'running engine')} in the records "
            f"{'has' if due == 1 else 'have'} reached {text_hours(low)}, where planning begins. A "
            "bad sign on any engine comes before its hours."
        )
    ]


def _checks(results: Results) -> list[Block]:
    c = results.settings.check
    return [
        say(
            f"Are checks each {c.interval_h:g} h enough? {results.advice.risk.sentence} What the "
            "checks can and cannot see stands under the condition checks."
        )
    ]


def _seen(results: Results) -> list[Block]:
    s = results.spells
    return [
        say(
            f"What stands behind this? {count(s.n_failed, 'failure').capitalize()} in "
            f"{s.exposure_h:,.0f} engine hours ({clock_words(results)}) of "
            f"{count(results.built.funnel.total.engines_used, 'engine')}."
        )
    ]


def _population(results: Results) -> list[Block]:
    f = results.built.funnel
    built = (
        f"{f.n_built:,} built, {f.total.engines_used:,} used, {f.n_fate_unknown:,} of unknown fate"
        if f.n_built
        else f"{f.total.engines_used:,} used; the study does not say how many were built"
    )
    a = results.audit
    return [
        say(
            f"Which engines, and how chosen? {built}. {a.n_read:,} rows read = {a.n_used:,} used + "
            f"{a.n_set_aside:,} set aside, each with its reason."
        ),
        *_seen(results),
    ]


def _counted(results: Results) -> list[Block]:
    from fleetstats.records.settings import LEVELS

    q = results.settings.question
    return [
        say(
            f"What counted as failure? {LEVELS[q.level].capitalize()}. Each failure and each "
            f"removal on a finding is listed. Bands are {say_confidence(results.advice.level)} at "
            "each edge."
        )
    ]


def _next(results: Results) -> list[Block]:
    w = results.advice.wear_out
    text = w.settle or w.sentence
    return [say(f"What would tell more? {text}", "missing" if w.settle else "fact")]


def _again(results: Results) -> list[Block]:
    return [
        say(
            f"Can it be done again? Yes: the input files with their digests, every setting, the "
            f"seed {results.provenance.seed} and the versions stand under provenance; the command "
            f"is “{results.provenance.command}”."
        )
    ]
