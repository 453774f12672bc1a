"""Chapter: does a source tell too few failures, or too many?"""

from __future__ import annotations

from fleetstats.chapters.sources.values import Sources
from fleetstats.chapters.sources.words import side_rows, source_name
from fleetstats.document.blocks import facts
from fleetstats.document.document import Block, Section, Statement, Table
from fleetstats.document.glossary import explain
from fleetstats.document.table_of import col, table_of
from fleetstats.vocabulary.limits import HONEST_P

NEEDED = (
    "Whether an engine that an earlier return listed is missing from this one cannot be seen in "
    "one return: fleetstats compare names it where last year's study is at hand."
)


def compose_sources(s: Sources) -> Section:
    """Return the section on sources."""
    blocks: list[Block] = [
        Statement(text=s.sentence, tone="caution" if s.cautions else "fact"),
        _lines(s),
        *(Statement(text=c.text, tone="caution") for c in s.cautions),
    ]
    rows = side_rows(s)
    if rows:
        blocks.append(facts("sources-sides", "The answer with and without", rows))
    if any(x.drop_off is not None for x in s.lines):
        blocks.append(Statement(text=NEEDED, tone="missing"))
    blocks.append(explain("p-value"))
    return Section(
        key="sources", title="Does a source tell too few failures?", blocks=tuple(blocks)
    )


def _lines(s: Sources) -> Table:
    level = f"{100 * s.level:g} %"
    return table_of(
        s.lines,
        key="sources-told",
        title="Failures told and expected, source by source",
        columns=(
            col("source", "Source", source_name),
            col("n", "Lives", lambda x: x.n, "count"),
            col("told", "Failures told", lambda x: None if x.beside is None else x.beside.n,
                "count"),
            col("expected", "Expected",
                lambda x: None if x.beside is None else x.beside.expected, "number",
                help="At the rate of the other sources, age by age."),
            col("ratio-low", f"Ratio, low ({level})",
                lambda x: None if x.beside is None else x.beside.low, "number", beside=(1.0,)),
            col("ratio-high", f"Ratio, high ({level})",
                lambda x: None if x.beside is None else x.beside.high, "number", beside=(1.0,)),
            col("p-fewer", "Chance of so few", lambda x: x.p_fewer, "number", beside=(HONEST_P,),
                help="If it is like the others; held over all sources, as are the other chances."),
            col("p-all", "Chance that all fail", lambda x: x.p_all, "number", beside=(HONEST_P,)),
            col("dropped", "Dropped off", lambda x: None if x.drop_off is None else x.drop_off.n,
                "count", help="Lost to follow-up, or not read with the others of the source."),
            col("older", "Others with fewer hours",
                lambda x: None if x.drop_off is None else x.drop_off.older, "percent",
                help="On the day an engine was last read; a half if hours play no part."),
            col("p-drop", "Chance of hours so high", lambda x: x.p_drop, "number",
                beside=(HONEST_P,)),
        ),
        see="A source that is right tells about as many failures as are expected of it.",
    )  # fmt: skip
