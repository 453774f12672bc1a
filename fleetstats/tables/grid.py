"""A file's sheets as they stand, before anybody knows which line holds the column names."""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fleetstats.tables.open_table import PARQUETS, TEXTS, WORKBOOKS, check_size, unknown_kind
from fleetstats.tables.table import MAX_CELLS, MAX_COLUMNS, MAX_ROWS, RawRow, TableError
from fleetstats.tables.workbook_scan import check_workbook
from fleetstats.tables.xlsx_table import MAX_SHEET_CELLS
from fleetstats.vocabulary.finding import make_finding
from fleetstats.vocabulary.slugs import suffix_of

MAX_SHEETS = 60
"""Sheets of a workbook that are looked at."""

TOO_MANY = f"Only {MAX_SHEETS} sheets of a workbook are looked at."


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetGrid:
    """One sheet: its lines that are not blank, with their numbers.

    `names_at` is the line of the column names where the kind of file says it (0: to be found);
    `problem` says why the sheet cannot be read, where it cannot.
    """

    file: str
    sheet: str = ""
    lines: tuple[RawRow, ...] = ()
    delimiter: str = ""
    names_at: int = 0
    problem: str = ""


def place_of_row(lines: Sequence[RawRow], row: int) -> int:
    """Return where the line of a number stands among lines; -1 where none has it."""
    return next((i for i, line in enumerate(lines) if line.row == row), -1)


def open_grids(path: Path, name: str) -> tuple[SheetGrid, ...]:
    """Read every sheet of a file; formulas give the value that the sheet stored for them.

    Raises
    ------
    TableError
        If the file is too large, of an unknown kind, or not what its name says; the error
        carries the finding.
    """
    check_size(path, name)
    kind = suffix_of(name)
    try:
        if kind in WORKBOOKS:
            return _of_workbook(path, name)
        if kind in PARQUETS:
            return (_of_parquet(path, name),)
        if kind in TEXTS:
            return (_of_text(path, name),)
    except OSError as e:
        raise TableError(
            make_finding("file-unreadable/not-read", file=name, problem=e.strerror)
        ) from None
    raise unknown_kind(name)


def _of_text(path: Path, name: str) -> SheetGrid:
    from fleetstats.tables.csv_table import decode_text, find_delimiter, split_text

    body, _ = decode_text(path.read_bytes(), name)
    mark = find_delimiter(body)
    lines = _kept(split_text(body, mark, name), name, "", MAX_CELLS)
    return SheetGrid(file=name, lines=lines, delimiter=mark)


def _of_parquet(path: Path, name: str) -> SheetGrid:
    from fleetstats.tables.parquet_table import read_parquet

    table = read_parquet(path, name)
    names = RawRow(row=1, cells=table.header)
    return SheetGrid(file=name, lines=(names, *table.rows), names_at=1)


def _of_workbook(path: Path, name: str) -> tuple[SheetGrid, ...]:
    import openpyxl

    check_workbook(path, name)
    out: list[SheetGrid] = []
    try:
        # openpyxl leaves a file open that it fails on; so it is given one that we close.
        with path.open("rb") as f, warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(f, read_only=True, data_only=True, keep_links=False)
            sheets = book.worksheets
            for ws in sheets[:MAX_SHEETS]:
                # what a sheet says of its own size need not be true
                ws.reset_dimensions()
                rows = enumerate(ws.iter_rows(values_only=True), start=1)
                try:
                    lines = _kept(rows, name, ws.title, MAX_SHEET_CELLS)
                except TableError as e:
                    out.append(SheetGrid(file=name, sheet=ws.title, problem=e.finding.message))
                    continue
                out.append(SheetGrid(file=name, sheet=ws.title, lines=lines))
            out += [
                SheetGrid(file=name, sheet=ws.title, problem=TOO_MANY) for ws in sheets[MAX_SHEETS:]
            ]
            book.close()
    except TableError:
        raise
    except Exception as e:  # a damaged workbook makes openpyxl raise nearly anything
        raise TableError(
            make_finding("file-unreadable/damaged", file=name, problem=type(e).__name__)
        ) from None
    if not out:
        raise TableError(make_finding("file-unreadable/no-cells", file=name, title=""))
    return tuple(out)


def _kept(
    lines: Iterable[tuple[int, Iterable[Any]]], name: str, sheet: str, most_cells: int
) -> tuple[RawRow, ...]:
    """Return the lines that are not blank, without blank cells at their ends."""
    out: list[RawRow] = []
    n_cells = widest = 0
    for number, told in lines:
        cells = list(told)
        n_cells += len(cells)
        while cells and (cells[-1] is None or (type(cells[-1]) is str and not cells[-1].strip())):
            cells.pop()
        widest = max(widest, len(cells))
        if number > MAX_ROWS or widest > MAX_COLUMNS or n_cells > most_cells:
            raise TableError(
                make_finding(
                    "file-too-large/used-area",
                    file=name,
                    sheet=sheet,
                    n_rows=number,
                    n_columns=widest,
                    most_columns=MAX_COLUMNS,
                    most_cells=most_cells,
                )
            )
        if cells:
            out.append(RawRow(row=number, cells=tuple(cells)))
    return tuple(out)
