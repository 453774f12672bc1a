"""Definitions: the failure level, who confirms it, and what each ending counts as."""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.chapters.data import compose_likeness
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section, Table
from fleetstats.document.glossary import explain
from fleetstats.document.population_words import say_level
from fleetstats.document.references import point
from fleetstats.document.table_of import col, table_of
from fleetstats.study.settings import LEVELS
from fleetstats.vocabulary.wording import count, listed

COUNTS_AS = {
    "failure": "failure in question",
    "competing": "another cause",
    "censored": "censored",
    "finding": "removal on a finding",
    "excluded": "excluded",
}


def compose_definitions(results: Results) -> Section:
    """Return what counts as the failure, and the table of endings with their counts."""
    q = results.settings.question
    level = say_level(q.level, unlooked=results.built.unlooked)
    blocks: list[Block] = [
        say(f"The failure in question is “{q.name}”, counted at this level: {level}."),
        explain("censored"),
        _levels(q.level),
    ]
    if any(e.counts_as == "competing" for e in results.built.endings):
        blocks.insert(1, explain("competing"))
    if results.spells.interval_known.any():
        blocks.insert(1, explain("interval-known"))
    if q.causes:
        blocks.append(say(f"Only these causes are in question: {listed(list(q.causes))}."))
    blocks.append(say(f"These causes censor: {listed(list(q.censoring_causes))}."))
    unknown = {
        "failure": "counts as the failure in question",
        "competing": "counts as a failure from another cause",
    }[q.unknown_cause]
    blocks.append(say(f"A failure of unknown cause {unknown}.", "assumption"))
    findings = sum(e.n for e in results.built.endings if e.counts_as == "finding")
    if findings:
        blocks.append(
            say(
                f"{count(findings, 'life', 'lives').capitalize()} ended by a removal on a finding. "
                "Such a removal is neither a failure nor an engine that would surely have run on. "
                "Counting all of them, and none: "
                + point("outer-band", "hidden", otherwise="not worked out here")
                + ".",
                "caution",
            )
        )
    blocks.append(_endings(results))
    blocks += compose_likeness(results)
    return Section(key="definitions", title="Definitions", blocks=tuple(blocks))


def _levels(chosen: str) -> Table:
    return table_of(
        LEVELS.items(),
        key="levels",
        title="Levels of failure",
        columns=(
            col("level", "Level", lambda x: x[0]),
            col("meaning", "What it counts", lambda x: x[1]),
            col("here", "This study", lambda x: "in question" if x[0] == chosen else ""),
        ),
        see="Figures for one level say nothing about another.",
        folded=True,
    )


def _endings(results: Results) -> Table:
    said = {True: "yes", False: "no", None: "not said"}
    return table_of(
        results.built.endings,
        key="endings",
        title="How lives ended, and what that counts as",
        columns=(
            col("ending", "Ending", lambda e: e.ending.replace("-", " ")),
            col("cause", "Cause", lambda e: e.cause or "not said"),
            col("confirmed", "Confirmed", lambda e: said[e.confirmed]),
            col("counts_as", "Counts as", lambda e: COUNTS_AS.get(e.counts_as, e.counts_as)),
            col("reason", "Why", lambda e: e.reason),
            col("n", "Lives", lambda e: e.n, "count"),
        ),
        see="Every life stands in one line of this table.",
    )
