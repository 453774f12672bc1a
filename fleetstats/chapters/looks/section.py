"""The looks as a section of the report."""

from __future__ import annotations

from fleetstats.advice.looks.words import say_share
from fleetstats.chapters.looks.values import LookLine, PlannedLooks
from fleetstats.document.document import Block, Explain, Section, Statement, Table
from fleetstats.document.table_of import col, table_of

STATES = {"made": "made", "this": "this one", "planned": "to come"}


def compose_look_plan(looks: PlannedLooks) -> Section:
    """Return the section on looks at growing records."""
    blocks: list[Block] = [
        Statement(text=looks.sentence, tone="caution" if looks.cautions else "fact"),
        Explain(
            term="chance held over all looks",
            text="A claim that is wrong gets a new chance to look right with every look. With a "
            "plan the chance of error is shared out: each look uses up a part, the later ones, "
            "which know more, the most of it.",
        ),
        _table(looks),
    ]
    return Section(key="looks", title="How often were these records looked at?",
                   blocks=tuple(blocks))  # fmt: skip


def _share(p: float | None) -> str:
    return "" if p is None else say_share(p)


def _expected(x: LookLine) -> float | None:
    return x.expected


def _table(looks: PlannedLooks) -> Table:
    if looks.look.rule != "spending":
        see = "No chance was shared out over these looks."
    elif looks.look.known:
        see = (
            "How far the plan has come is told by the failures expected, were the claim at its "
            "limit, and by how these grew; a level depends on no look that comes after it."
        )
    else:
        see = (
            "No history tells the failures expected at earlier looks; they are taken to have grown "
            "as in a fleet that engines join evenly, which makes the levels no greater than a "
            "slower growth would."
        )
    return table_of(
        looks.lines,
        key="looks",
        title="Looks made and planned",
        columns=(
            col("look", "Look", lambda x: x.number, "count"),
            col("state", "State", lambda x: STATES[x.state]),
            col("expected", "Failures expected at the limit", _expected, "number"),
            col("share", "Share of what the last look will know, as guessed",
                lambda x: _share(x.share)),
            col("spent", "Chance of error used up", lambda x: _share(x.spent)),
            col("level", "Level of this look", lambda x: _share(x.level)),
        ),
        see=see,
    )  # fmt: skip
