"""A line of the table of lives as a page shows it: for a reader, in few columns."""

from __future__ import annotations

import itertools

from fleetstats.document.cells import set_text
from fleetstats.studies.lineage import LifeLine
from fleetstats.vocabulary.wording import count

HEADS = (
    "Life", "Engine", "Build", "Source", "Rows", "Words as written", "Read as", "By", "Use",
    "At risk, h", "Event", "Weight",
)  # fmt: skip
"""Heads of the columns, in their order."""

USE = HEADS.index("Use")


def shown_line(x: LifeLine) -> list[str]:
    """Return the cells of one life, or of a row that became none."""
    return [
        set_text(c)
        for c in (
            x.life, x.engine, x.build, x.source, say_rows(x), say_words(x), x.meaning, x.rule,
            x.use, say_hours(x), x.event, "" if x.weight is None else f"{x.weight:g}",
        )
    ]  # fmt: skip


def say_rows(x: LifeLine) -> str:
    """Say on which rows a life rests, rows that follow each other as a run: "a.csv 2 to 6, 9"."""
    out = []
    for file, rows in itertools.groupby(x.rows, key=lambda r: r[0]):
        runs: list[list[int]] = []
        for _, n in rows:
            if runs and n == runs[-1][-1] + 1:
                runs[-1].append(n)
            else:
                runs.append([n])
        said = (f"{r[0]} to {r[-1]}" if len(r) > 1 else str(r[0]) for r in runs)
        out.append(f"{file} {', '.join(said)}")
    return "; ".join(out)


def say_words(x: LifeLine) -> str:
    """Say the words of the rows, those that repeat once with their number."""
    out = []
    for pair, same in itertools.groupby(x.words):
        n, said = len(list(same)), " / ".join(w for w in pair if w) or "nothing"
        out.append(said if n == 1 else f"{said} ({count(n, 'row')})")
    return ", ".join(out)


def say_hours(x: LifeLine) -> str:
    """Say from which hours to which a life was at risk; a failure between two as such."""
    if x.entry_h is None or x.exit_low_h is None or x.exit_high_h is None:
        return ""
    if x.exit_low_h < x.exit_high_h:
        return f"{x.entry_h:,.12g} to between {x.exit_low_h:,.12g} and {x.exit_high_h:,.12g}"
    return f"{x.entry_h:,.12g} to {x.exit_high_h:,.12g}"
