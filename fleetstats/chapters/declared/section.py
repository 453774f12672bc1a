"""The question as declared: its versions, and what was changed since."""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.chapters.declared.values import DeclaredQuestion
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section
from fleetstats.document.table_of import col, table_of


def compose_declared(results: Results) -> Section | None:
    """Return the section; None where no question was declared."""
    told = results.chapters.get("declared")
    if not isinstance(told, DeclaredQuestion):
        return None
    blocks: list[Block] = [say(x) for x in told.sentences]
    if told.changes:
        blocks.append(
            table_of(
                told.changes,
                key="declared-changes",
                title="What is not as it was declared",
                columns=(
                    col("key", "Setting", lambda c: c.key),
                    col("was", "Declared", lambda c: c.was),
                    col("now", "Now", lambda c: c.now),
                    col("since", "Changed", lambda c: c.since),
                    col("turns", "Verdict", lambda c: "yes" if c.turns else "no",
                        help="Whether it can turn the verdict on a claim."),
                    col("doc", "Meaning", lambda c: c.doc),
                ),
                see=f"Held against version {told.held}, declared on {told.on}.",
                uncut=True,
            )
        )  # fmt: skip
    blocks.append(
        table_of(
            told.versions,
            key="declared-versions",
            title="Versions of the declaration",
            columns=(
                col("number", "Version", lambda v: v.number, "count"),
                col("declared", "Declared on", lambda v: v.declared),
                col("looks", "Looks before it", lambda v: v.looks, "count"),
                col("looks_at_these", "Of them at these records", lambda v: v.looks_at_these,
                    "count"),
                col("changed", "Settings changed", lambda v: v.changed, "count"),
                col("digest", "Digest", lambda v: v.digest),
            ),
            see="A look at records up to an earlier date than any declared is none at these.",
        )
    )  # fmt: skip
    return Section(key="declared", title="The question as declared", blocks=tuple(blocks))
