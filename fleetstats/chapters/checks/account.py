"""The account of checks, leak-down sheets and bench runs: every row used or set aside."""

from __future__ import annotations

from fleetstats.document.document import Block, Section, Statement
from fleetstats.document.table_of import col, table_of
from fleetstats.records.condition.condition import Condition

SHOWN = 50
"""Rows set aside that are listed; their number is always told."""


def compose_condition(c: Condition) -> Section | None:
    """Return the account of the condition files; None where nothing was read."""
    if not c.readings:
        return None
    digest = {f.name: f.sha256[:16] for f in c.sources}
    read = sum(r.n_read for r in c.readings)
    aside = [s for r in c.readings for s in r.set_aside]
    blocks: list[Block] = [
        Statement(
            text=f"Checks, readings and bench runs: {read:,} rows read = {read - len(aside):,} "
            f"used + {len(aside):,} set aside."
        ),
        table_of(
            c.readings,
            key="condition-files",
            title="Files of checks and readings",
            columns=(
                col("file", "File", lambda r: r.file),
                col("shape", "Holds", lambda r: r.shape),
                col("read", "Rows read", lambda r: r.n_read, "count"),
                col("used", "Used", lambda r: r.n_read - len(r.set_aside), "count"),
                col("aside", "Set aside", lambda r: len(r.set_aside), "count"),
                col("sha256", "SHA-256, first 16 digits", lambda r: digest.get(r.file, "")),
            ),
        ),
    ]
    found = [f for f in c.findings if f.severity in ("error", "warning")]
    if found:
        blocks.append(
            table_of(
                found[:SHOWN],
                key="condition-findings",
                title="What is odd in them",
                columns=(
                    col("file", "File", lambda f: f.file),
                    col("row", "Row", lambda f: f.row, "count"),
                    col("column", "Column", lambda f: f.column),
                    col("value", "Value", lambda f: f.value),
                    col("message", "What is odd", lambda f: f.message),
                    col("advice", "What would be right", lambda f: f.advice),
                ),
                see=(
                    f"{len(found)} findings"
                    + (f", the first {SHOWN} shown." if len(found) > SHOWN else ".")
                ),
                folded=True,
            )
        )
    return Section(key="condition", title="Checks and readings: the files", blocks=tuple(blocks))
