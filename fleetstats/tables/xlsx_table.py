"""A workbook's sheet to a table. The one door to openpyxl for reading."""

from __future__ import annotations

import contextlib
import datetime as dt
import warnings
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from fleetstats.core.limits import most
from fleetstats.tables.table import (
    MAX_CELLS,
    MAX_COLUMNS,
    MAX_ROWS,
    BadCell,
    RawRow,
    RawTable,
    TableError,
)
from fleetstats.tables.workbook_scan import check_workbook
from fleetstats.vocabulary.finding import Finding, make_finding
from fleetstats.vocabulary.nearest import did_you_mean

MAX_SHEET_CELLS = most("sheet_cells")
"""Largest used area of a sheet; far cells that were only coloured count, since they are stored."""


def read_xlsx(path: Path, name: str, *, sheet: str = "", header_row: int = 0) -> RawTable:
    """Read one sheet of a workbook (the first that is to be seen where `sheet` is empty).

    A formula gives the value that the sheet stored for it, with a note; without a stored value
    its cell is a `BadCell`. Cells hidden under a merged cell are named, since they look empty.

    Raises
    ------
    TableError
        If it is no workbook, the sheet is not there, or the limits are passed.
    """
    check_workbook(path, name)
    book = _load(path, name, values=False)
    try:
        names = book.sheetnames
        if sheet and sheet not in names:
            raise TableError(
                make_finding(
                    "file-unreadable/no-sheet",
                    file=name,
                    wanted=sheet,
                    hint=did_you_mean(sheet, names),
                )
            )
        title = sheet or next((w.title for w in book.worksheets if w.sheet_state == "visible"), "")
        titles = [w.title for w in book.worksheets]
        if title not in titles:
            raise TableError(make_finding("file-unreadable/no-cells", file=name, title=title))
        ws = book[title]
        n_rows, n_columns = int(ws.max_row or 0), int(ws.max_column or 0)
        if n_rows > MAX_ROWS or n_columns > MAX_COLUMNS or n_rows * n_columns > MAX_SHEET_CELLS:
            raise TableError(
                make_finding(
                    "file-too-large/used-area",
                    file=name,
                    sheet=title,
                    n_rows=n_rows,
                    n_columns=n_columns,
                    most_columns=MAX_COLUMNS,
                    most_cells=MAX_SHEET_CELLS,
                )
            )
        grid: list[list[Any]] = [list(r) for r in ws.iter_rows(values_only=True)]
        formulas = [
            (i, j)
            for i, r in enumerate(ws.iter_rows())
            for j, c in enumerate(r)
            if c.data_type == "f"
        ]
        errors = [
            (i, j)
            for i, r in enumerate(ws.iter_rows())
            for j, c in enumerate(r)
            if c.data_type == "e"
        ]
        covered = _covered(ws)
    finally:
        book.close()
    if formulas:
        _fill_formulas(path, name, title, grid, formulas)
    for i, j in errors:
        grid[i][j] = BadCell(shown=str(grid[i][j]), why=f"The sheet's error {grid[i][j]} stands")
    table = _table(name, title, grid, covered, {i + 1 for i, _ in formulas}, header_row)
    if not sheet and title != titles[0]:
        passed = ", ".join(titles[: titles.index(title)][:8])
        told = make_finding("sheets-hidden", file=name, sheet=title, hidden=passed)
        table = replace(table, findings=(*table.findings, told))
    return table


def list_sheets(path: Path, name: str) -> tuple[str, ...]:
    """Return the names of a workbook's sheets.

    Raises
    ------
    TableError
        If it is no workbook.
    """
    with _values_of(path, name) as book:
        return tuple(book.sheetnames)


@contextlib.contextmanager
def _values_of(path: Path, name: str) -> Iterator[Any]:
    """Hold a workbook open whose formulas give the values that it stored, within the limits."""
    check_workbook(path, name)
    book = _load(path, name, values=True)
    try:
        yield book
    finally:
        book.close()


def _load(path: Path, name: str, *, values: bool) -> Any:
    import openpyxl

    try:
        # openpyxl leaves a file open that it fails on; so it is given one that we close.
        with path.open("rb") as f, warnings.catch_warnings():
            # openpyxl warns of drop-down lists and the like that do not concern the cells.
            warnings.simplefilter("ignore")
            return openpyxl.load_workbook(f, data_only=values, keep_links=False)
    except Exception as e:  # a damaged workbook makes openpyxl raise nearly anything
        raise TableError(
            make_finding("file-unreadable/damaged", file=name, problem=type(e).__name__)
        ) from None


def _covered(ws: Any) -> set[int]:
    rows: set[int] = set()
    for area in ws.merged_cells.ranges:
        if area.max_row > area.min_row or area.max_col > area.min_col:
            rows.update(range(area.min_row, min(area.max_row, MAX_ROWS) + 1))
    return rows


def _fill_formulas(
    path: Path, name: str, title: str, grid: list[list[Any]], formulas: list[tuple[int, int]]
) -> None:
    book = _load(path, name, values=True)
    try:
        ws = book[title]
        for i, j in formulas:
            value = ws.cell(row=i + 1, column=j + 1).value
            if value is None:
                value = BadCell(
                    shown=str(grid[i][j]), why="A formula without a stored value stands"
                )
            elif isinstance(value, str) and value.startswith("#"):
                value = BadCell(shown=value, why=f"A formula with the error {value} stands")
            grid[i][j] = value
    finally:
        book.close()


def _blank(cell: Any) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def _table(
    name: str,
    title: str,
    grid: list[list[Any]],
    covered: set[int],
    formula_rows: set[int],
    header_row: int,
) -> RawTable:
    at = header_row - 1 if header_row else 0
    if not header_row:
        at = next((i for i, r in enumerate(grid) if not all(_blank(c) for c in r)), len(grid))
    if at >= len(grid) or all(_blank(c) for c in grid[at]):
        raise TableError(
            make_finding("file-unreadable/sheet-no-header", file=name, sheet=title, title=title)
        )
    header = list(grid[at])
    width = max(j + 1 for j, c in enumerate(header) if not _blank(c))
    rows: list[RawRow] = []
    long: dict[int, int] = {}
    found: list[Finding] = []
    blank = 0
    for i, cells in enumerate(grid[at + 1 :], start=at + 2):
        if all(_blank(c) for c in cells):
            blank += 1
            continue
        over = [j + 1 for j in range(width, len(cells)) if not _blank(cells[j])]
        if over:
            long[i] = max(over)
        rows.append(RawRow(row=i, cells=tuple(cells[:width])))
    # Rows of the used area that lie below the last row of content are no lines of the table.
    last = rows[-1].row if rows else at + 1
    blank -= max(0, len(grid) - last)
    if len(rows) * width > MAX_CELLS:
        raise TableError(
            make_finding(
                "file-too-large/sheet", file=name, sheet=title, n_rows=len(rows), width=width
            )
        )
    numbers = {r.row for r in rows}
    return RawTable(
        file=name,
        sheet=title,
        header=tuple(_head(h) for h in header[:width]),
        header_row=at + 1,
        rows=tuple(rows),
        n_blank=blank,
        long=long,
        merged=frozenset(covered & numbers),
        formulas=frozenset(formula_rows & numbers),
        findings=tuple(found),
    )


def _head(cell: Any) -> str:
    if isinstance(cell, dt.datetime):
        cell = cell.date()
    return "" if cell is None else " ".join(str(cell).split())


def xlsx_lines(path: Path, name: str, sheet: str) -> list[tuple[int, list[Any]]]:
    """Return every line of a sheet as it stands, those above its header too, with their numbers.

    Formulas give the values that the sheet stored. For a file that `read_xlsx` took, whose limits
    it has passed.

    Raises
    ------
    TableError
        If it is no workbook.
    """
    with _values_of(path, name) as book:
        return [(i, list(r)) for i, r in enumerate(book[sheet].iter_rows(values_only=True), 1)]
