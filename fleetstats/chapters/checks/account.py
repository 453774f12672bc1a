"""The account of checks, leak-down sheets and bench runs: every row used or set aside."""

from __future__ import annotations

from fleetstats.document.document import Block, Column, Section, Statement, Table
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
        Table(
            key="condition-files",
            title="Files of checks and readings",
            columns=(
                Column(key="file", title="File"),
                Column(key="shape", title="Holds"),
                Column(key="read", title="Rows read", kind="count"),
                Column(key="used", title="Used", kind="count"),
                Column(key="aside", title="Set aside", kind="count"),
                Column(key="sha256", title="SHA-256, first 16 digits"),
            ),
            rows=tuple(
                (
                    r.file,
                    r.shape,
                    r.n_read,
                    r.n_read - len(r.set_aside),
                    len(r.set_aside),
                    digest.get(r.file, ""),
                )
                for r in c.readings
            ),
        ),
    ]
    found = [f for f in c.findings if f.severity in ("error", "warning")]
    if found:
        blocks.append(
            Table(
                key="condition-findings",
                title="What is odd in them",
                columns=(
                    Column(key="file", title="File"),
                    Column(key="row", title="Row", kind="count"),
                    Column(key="column", title="Column"),
                    Column(key="value", title="Value"),
                    Column(key="message", title="What is odd"),
                    Column(key="advice", title="What would be right"),
                ),
                rows=tuple(
                    (f.file, f.row, f.column, f.value, f.message, f.advice) for f in found[:SHOWN]
                ),
                see=f"{len(found)} findings"
                + (f", the first {SHOWN} shown." if len(found) > SHOWN else "."),
                folded=True,
            )
        )
    return Section(key="condition", title="Checks and readings: the files", blocks=tuple(blocks))
