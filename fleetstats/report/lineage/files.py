"""The table of all lives as CSV, and what each figure rests on as data."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Any

from fleetstats.core.kept import kept
from fleetstats.document.cells import Cell
from fleetstats.report.json import write_json_text
from fleetstats.report.tables import csv_lines
from fleetstats.studies.lineage import EveryLife, Figured, LifeLine, Lineage

LIVES = "lives.csv"
"""The table of all lives, beside the page."""

LIVES_COLUMNS = (
    "life", "engine", "build", "source", "file", "row", "words", "meaning", "rule", "use",
    "entry_h", "exit_low_h", "exit_high_h", "event", "weight",
)  # fmt: skip
"""Its columns, in their order."""

MOST_LISTED = 2_000
"""Lives of one figure that are listed one by one; of more, only number and digest are told."""


def cells_of(x: LifeLine) -> tuple[Cell, ...]:
    """Return one line of the table of lives."""
    return (
        x.life, x.engine, x.build, x.source, x.file, x.row, x.words_said, x.meaning, x.rule, x.use,
        x.entry_h, x.exit_low_h, x.exit_high_h, x.event, x.weight,
    )  # fmt: skip


def lives_csv(lives: EveryLife) -> str:
    """Return the table of all lives; hours in full, several rows of a life joined by ";"."""
    return "".join(lives_lines(lives))


def lives_lines(lives: EveryLife) -> tuple[str, ...]:
    """Return the lines of that table, its head first, each with its line end."""
    return kept(
        lives, "lineage.lines",
        lambda: tuple(csv_lines([LIVES_COLUMNS, *(cells_of(x) for x in lives.lines)])),
    )  # fmt: skip


def lineage_json(lineage: Lineage) -> str:
    """Return what each figure rests on, as JSON text.

    The digest of the lives of a figure is the SHA-256 of their lines in the table, in its order,
    each with its line end, in UTF-8.
    """
    lives = lineage.lives
    lines = {} if lives is None else {
        int(x.life): line
        for x, line in zip(lives.lines, lives_lines(lives)[1:], strict=True) if x.life
    }  # fmt: skip
    digests: dict[tuple[int, ...], str] = {}
    return write_json_text(
        {
            "schema": "fleetstats/lineage/1",
            "report_id": lineage.report_id,
            "title": lineage.title,
            "lives": _account(lineage),
            "settings": {
                s.key: {"value": s.value, "default": s.default, "chosen": s.chosen}
                for s in lineage.settings
            },
            "figures": {f.key: _figure(f, lines, digests) for f in lineage.figures},
            "order": [f.key for f in lineage.figures],
        }
    )


def _account(lineage: Lineage) -> dict[str, Any]:
    """Return the account of the table of lives, or why there is none."""
    lives, told = lineage.lives, {"settings": list(lineage.settings_of_lives)}
    if lives is None:
        return told | {"file": None, "why": lineage.no_lives}
    return told | {
        "file": LIVES,
        "counted": len(lives.counted),
        "rows_read": lives.n_read,
        "rows_in_lives": len(lives.rows_in_lives),
        "rows_in_none": len(lives.rows_in_none),
    }


def _figure(
    f: Figured, lines: dict[int, str], digests: dict[tuple[int, ...], str]
) -> dict[str, Any]:
    interval = None if f.level is None else {"low": f.low, "high": f.high, "level": f.level}
    return {
        "name": f.name,
        "printed": list(f.printed),
        "value": f.value,
        "unit": f.unit,
        "interval": interval,
        "rule": f.rule,
        "settings": list(f.settings),
        "figures": list(f.figures),
        "parts": list(f.chapters),
        "lives": _lives(f, lines, digests),
        "rows": [{"file": file, "row": row} for file, row in f.rows],
        "made_again": f.made_again,
    }


def _lives(
    f: Figured, lines: dict[int, str], digests: dict[tuple[int, ...], str]
) -> dict[str, Any] | None:
    if not f.of:
        return None
    if not lines:
        return {"which": f.of}
    if f.lives not in digests:
        digests[f.lives] = digest_lines(lines[i] for i in f.lives)
    told = {"which": f.of, "every": f.every, "count": len(f.lives), "sha256": digests[f.lives]}
    listed = not f.every and len(f.lives) <= MOST_LISTED
    return told | ({"life": [str(i) for i in f.lives]} if listed else {})


def digest_lines(lines: Sequence[str] | Any) -> str:
    """Return the SHA-256 of lines of the table of lives."""
    return hashlib.sha256("".join(lines).encode("utf-8")).hexdigest()
