"""A workbook that came back: its decisions, read with the limits that every workbook is held to."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fleetstats.core.errors import ReadError
from fleetstats.records.mending.book import FILE_HEADS, FILES, HEADS, LIST, as_written, titles_of
from fleetstats.records.mending.supplied import Supplied, open_supplied
from fleetstats.records.mending.take import CHOICES, GIVE, TAKE, TOLD, Decision
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.cells import text
from fleetstats.tables.open_table import open_table
from fleetstats.tables.table import RawTable, TableError
from fleetstats.tables.xlsx_table import xlsx_lines
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.slugs import suffix_of

_WORDS = {fold(c): c for c in CHOICES}


def read_mend_book(study: Study, path: str | Path, *, by: str = "") -> tuple[Decision, ...]:
    """Return the decisions of a workbook that `write_mend_book` wrote and somebody filled in.

    Parameters
    ----------
    study : Study
        The study that it was written of.
    path : str or Path
        The workbook.
    by : str
        Role of those decisions that name none.

    Raises
    ------
    ReadError
        If it is no such workbook, passes the limits of the reader, or holds what cannot be read:
        each line with its row, column and value.
    """
    path = Path(path)
    if suffix_of(path) != ".xlsx":
        raise ReadError(f"'{path.name}' is no workbook of odd cells.", "It ends in .xlsx.")
    table, files = _sheet(path, LIST, HEADS), _sheet(path, FILES, FILE_HEADS)
    digests = {(text(r.cells[0]), text(r.cells[1])): text(r.cells[2]) for r in files.rows}
    wrong = _typed_over(study, path, digests)
    out: list[Decision] = []
    for r in table.rows:
        told = {h: _shown(c) for h, c in zip(HEADS, r.cells, strict=True)}
        where = f"{path.name} [{LIST}] row {r.row}"
        found = _decision(told, where, digests, by)
        if isinstance(found, str):
            wrong.append(f"{where}, {found}")
        elif found is not None:
            if r.row in table.formulas:
                wrong.append(f"{where}: holds a formula. Write the value itself.")
            out.append(found)
    if wrong:
        more = [f"… and {len(wrong) - TOLD} more"] if len(wrong) > TOLD else []
        raise ReadError(
            "Nothing was taken; to be put right first:\n  " + "\n  ".join([*wrong[:TOLD], *more])
        )
    return tuple(out)


def _sheet(path: Path, sheet: str, heads: tuple[str, ...]) -> RawTable:
    try:
        table = open_table(RecordFile(file=path.name, path=path, sheet=sheet, header_row=1))
    except TableError as e:
        raise ReadError(
            str(e.finding), "Write the workbook with 'fleetstats check FOLDER --out FILE'."
        ) from None
    found = tuple(h.strip() for h in table.header)
    if found != heads:
        raise ReadError(
            f"{path.name} [{sheet}] row 1: the columns are not those that were written.",
            f"They are: {', '.join(heads)}. Write the workbook anew with 'check --out'.",
        )
    return table


def _shown(cell: Any) -> str:
    """Return a cell of the list as text; a day as year-month-day."""
    if isinstance(cell, dt.datetime) and cell.time() == dt.time():
        cell = cell.date()
    return text(cell)


def _decision(
    told: Mapping[str, str], where: str, digests: Mapping[tuple[str, str], str], by: str
) -> Decision | str | None:
    """Return the decision of a line, what is wrong with it, or None where it decides nothing."""
    act = told["decision"]
    if not act:
        given = [h for h in ("other value", "why", "by (role)") if told[h]]
        if given:
            return (
                f"column 'decision': is empty, and '{given[0]}' is filled in. "
                f"Choose one of: {', '.join(CHOICES)}."
            )
        return None
    choice = _WORDS.get(fold(act))
    if choice is None:
        return f"column 'decision': '{act[:40]}' is none of {', '.join(CHOICES)}."
    if choice != "leave" and not re.fullmatch(r"[1-9][0-9]{0,8}", told["row"]):
        return (
            f"column 'row': '{told['row'][:20]}' is no number of a row; only 'leave' is possible."
        )
    if told["other value"] and choice == TAKE:
        return (
            f"column 'other value': '{told['other value'][:40]}' stands beside '{TAKE}'. "
            f"Choose '{GIVE}', or empty it."
        )
    file, sheet = told["file"], told["sheet"]
    return Decision(
        file=file,
        sheet=sheet,
        row=int(told["row"]) if told["row"].isdigit() else 0,
        column=told["column"],
        act=choice,
        new=told["proposed"] if choice == TAKE else told["other value"],
        why=told["why"] or (told["reason"] if choice == TAKE else ""),
        by=told["by (role)"] or by,
        old=told["value"] if told["column"] and told["no"] else None,
        digest=digests.get((file, sheet), ""),
        place=where,
    )


def _typed_over(study: Study, path: Path, digests: Mapping[tuple[str, str], str]) -> list[str]:
    """Return the cells of the copied sheets that were typed over, which no decision says.

    Tables that have changed since are left out: their decisions are refused for that.
    """
    supplied = open_supplied(study)
    out: list[str] = []
    for key, title in titles_of(supplied).items():
        one = supplied[key]
        if digests.get(key) != one.digest:
            continue
        try:
            back = dict(xlsx_lines(path, path.name, title))
        except (TableError, KeyError):
            continue
        out += _differences(one, back, f"{path.name} [{title}]")
    return out


def _differences(one: Supplied, back: Mapping[int, list[Any]], sheet: str) -> list[str]:
    out = []
    for row, cells in one.lines():
        now = back.get(row, [])
        for j, cell in enumerate(cells):
            other = now[j] if j < len(now) else None
            if not _same(as_written(cell), other):
                column = one.name(j) if j < len(one.table.header) else f"column {j + 1}"
                out.append(
                    f"{sheet} row {row}, column '{column}': '{_shown(other)[:40]}' is typed over "
                    f"'{_shown(cell)[:40]}'. Undo that, and decide it on the sheet '{LIST}'."
                )
    return out


def _same(a: Any, b: Any) -> bool:
    """Return whether a cell came back as it went; programs store hours and digits in their way."""
    if isinstance(a, dt.time | dt.timedelta) or isinstance(b, dt.time | dt.timedelta):
        return True
    if isinstance(a, int | float) and isinstance(b, int | float):
        return abs(a - b) <= 1e-9 * max(abs(a), abs(b), 1.0)
    return _shown(a) == _shown(b)
