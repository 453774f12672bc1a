"""Names replaced: steps, account, effect on the answers, engines that can be told apart."""

from __future__ import annotations

from fleetstats.chapters.origin.values import OriginTold
from fleetstats.chapters.origin.words import (
    answer_rows,
    say_account,
    say_declared_there,
    say_looks,
    say_unlike,
    unique_rows,
)
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section
from fleetstats.document.table_of import col, table_of


def compose_origin(told: OriginTold) -> Section:
    """Return the section on the origin of a pseudonymous study."""
    o = told.origin
    lines = (
        told.sentence,
        say_account(o, told.same_account),
        say_unlike(o),
        say_looks(o),
        say_declared_there(o),
    )
    blocks: list[Block] = [say(x) for x in lines if x]
    blocks += [
        table_of(
            answer_rows(o.answers),
            key="coarsened-answers",
            title="What coarsening did to each answer",
            columns=(
                col("answer", "Answer", lambda r: r[0]),
                col("original", "Original", lambda r: r[1]),
                col("here", "Here", lambda r: r[2]),
            ),
            see="Both as told by the maker, hours to the step; those here come out of a new run.",
        ),
        table_of(
            unique_rows(o.unique),
            key="told-apart",
            title="Engines that can be told apart",
            columns=(
                col("by", "By", lambda r: r[0]),
                col("when", "Coarsening", lambda r: r[1]),
                col("alone", "Alone", lambda r: r[2], "count"),
                col("pairs", "Alike to one other", lambda r: r[3], "count"),
                col("more", "Alike to two or more", lambda r: r[4], "count"),
            ),
            see="An engine that stands alone is known again by whoever knows so much of it.",
        ),
    ]
    return Section(key="origin", title="Names replaced", blocks=tuple(blocks))
