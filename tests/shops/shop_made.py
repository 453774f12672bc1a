"""A shop's raw files with the truth stated beside them; invented, and drawn from a seed."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl

from fleetstats.core.seeds import stream

LAST_DAY = dt.date(2025, 12, 20)
SEED = 20260115


@dataclass(frozen=True, kw_only=True)
class Truth:
    """What a study of the files must hold: engines, failures in question, hours under risk."""

    engines: int
    failures: int
    hours_h: float


@dataclass(frozen=True, kw_only=True)
class Shop:
    """Raw files, what a person who knows the shop answers to each open line, and the truth.

    `answers` are by what is asked: a word, a column of ours, ``table.key``, or "place: what".
    `meter`, `passed` and `rough` are what else is known: sheets without records, cells of hours in
    words (file row).
    """

    name: str
    files: tuple[Path, ...]
    answers: Mapping[str, str]
    truth: Truth
    passed: tuple[str, ...] = ()
    settings: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Engine:
    """One life of an engine as it was: hours, how it ended, why, when."""

    engine: str
    build: str
    entry_h: float
    exit_h: float
    ending: str
    cause: str
    new: dt.date
    last: dt.date
    note: str = ""


def draw(
    name: str, n: int, ends: Sequence[tuple[str, str]], *, serial: str = "K-{:04d}",
    builds: Sequence[str] = ("B1",), late: float = 0.0,
) -> list[Engine]:  # fmt: skip
    """Return n engines: the first have the ends given (ending, cause), the rest run.

    `late` is the share that was first heard of later than new.
    """
    rng = stream(SEED, f"shop {name}")
    out = []
    order = rng.permutation(n)
    for i in range(n):
        exit_h = round(float(rng.uniform(150, 1400)), 1)
        entry_h = round(exit_h * float(rng.uniform(0.1, 0.6)), 1) if rng.random() < late else 0.0
        at = int(order[i])
        ending, cause = ends[at] if at < len(ends) else ("running", "")
        new = dt.date(2012, 1, 1) + dt.timedelta(days=int(rng.integers(0, 3000)))
        ended = dt.date(2022, 1, 1) + dt.timedelta(days=int(rng.integers(0, 1400)))
        last = LAST_DAY if ending == "running" else ended
        out.append(
            Engine(engine=serial.format(101 + 7 * i), build=builds[i % len(builds)],
                   entry_h=entry_h, exit_h=exit_h, ending=ending, cause=cause, new=new, last=last)
        )  # fmt: skip
    return out


def truth_of(lives: Sequence[Engine], failing: Sequence[str] = ("failed",)) -> Truth:
    """Return the counts of some lives."""
    return Truth(
        engines=len({x.engine for x in lives}),
        failures=sum(x.ending in failing for x in lives),
        hours_h=float(np.sum([x.exit_h - x.entry_h for x in lives])),
    )


def write_sheets(
    path: Path,
    sheets: Mapping[str, Sequence[Sequence[Any]]],
    merged: Mapping[str, str] | None = None,
) -> Path:
    """Write a workbook; `merged` names an area of cells for a sheet."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(list(row))
        for area in (merged or {}).get(title, "").split():
            sheet.merge_cells(area)
    book.save(path)
    return path


def write_text(
    path: Path, rows: Sequence[Sequence[Any]], *, mark: str = ",", encoding: str = "utf-8",
    shown: Callable[[Any], str] = str,
) -> Path:  # fmt: skip
    """Write delimited text, every line as wide as the widest, as a spreadsheet saves it."""
    width = max(map(len, rows))
    rows = [[*row, *[None] * (width - len(row))] for row in rows]
    with path.open("w", encoding=encoding, newline="") as f:
        csv.writer(f, delimiter=mark).writerows(
            [["" if c is None else shown(c) for c in row] for row in rows]
        )
    return path


def german(cell: Any) -> str:
    """Write a number with a comma and a date with points."""
    if isinstance(cell, float):
        return f"{cell:.1f}".replace(".", ",")
    return cell.strftime("%d.%m.%Y") if isinstance(cell, dt.date) else str(cell)


def slashed(cell: Any) -> str:
    """Write a date with slashes, the day first."""
    return cell.strftime("%d/%m/%Y") if isinstance(cell, dt.date) else str(cell)
