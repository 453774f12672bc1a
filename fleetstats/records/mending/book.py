"""The workbook in which odd cells are decided on: the sheets as supplied, and a list to fill in."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fleetstats.core.errors import SettingError
from fleetstats.core.files import write_whole
from fleetstats.core.value import Value, value
from fleetstats.records.mending.guide import GUIDE
from fleetstats.records.mending.propose import Proposal, propose_of
from fleetstats.records.mending.supplied import Supplied, open_supplied
from fleetstats.records.mending.take import CHOICES, LEAVE
from fleetstats.study.study import Study
from fleetstats.tables.cells import text
from fleetstats.tables.saved_book import saved_book
from fleetstats.tables.table import BadCell
from fleetstats.vocabulary.findings.entry import SEVERITIES
from fleetstats.vocabulary.slugs import suffix_of

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

LIST, FILES, READ_ME = "Odd cells", "Files", "Read me"
HEADS = (
    "no", "file", "sheet", "row", "column", "engine", "value", "severity", "kind", "reason",
    "what to do", "done as it stands", "proposed", "decision", "other value", "why", "by (role)",
)  # fmt: skip
FILE_HEADS = ("file", "sheet", "sha256", "shape", "rows", "copied to")
MARK = "odd cells"
"""Head of the column that says in words what the colours say."""

COLOURS = {"error": "FFF3B3A6", "warning": "FFFAE3A0", "note": "FFD8E4F0"}
MOST_CELLS = 2_000_000
"""Cells of all sheets past which a workbook is no help to a person."""

_DONE = {"stop": "stops the study", "set-aside": "row set aside", "accept": "used"}
_ILLEGAL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_NO_TITLE = re.compile(r"[\[\]:*?/\\']")


@value
class MendBook(Value):
    """A workbook that was written: where, how many findings are listed, how many with a value."""

    path: str
    n_listed: int
    n_proposed: int

    def __str__(self) -> str:
        """Return it in a line for a person."""
        return (
            f"{self.path}: {self.n_listed} findings listed, {self.n_proposed} with a proposed "
            f"value. Fill in the column 'decision' of the sheet '{LIST}' and save."
        )


def write_mend_book(study: Study, path: str | Path) -> MendBook:
    """Write a study's record files as a workbook with its odd cells marked and listed.

    Parameters
    ----------
    study : Study
        As read by `read_study`.
    path : str or Path
        A new file, ending in ``.xlsx``.

    Raises
    ------
    SettingError
        If the name does not end so, something bears it already, or the records are too long.
    ReadError
        If the study's table of mends is none.
    """
    path = Path(path)
    if suffix_of(path) != ".xlsx":
        raise SettingError(f"'{path.name}' is no name for a workbook.", "End it in .xlsx.")
    if path.exists():
        raise SettingError(
            f"'{path}' is there already, and may hold decisions that were not taken.",
            "Take it with --take, or name another file.",
        )
    supplied = open_supplied(study)
    cells = sum(len(s.rows) * len(s.table.header) for s in supplied.values())
    if cells > MOST_CELLS:
        raise SettingError(
            f"The records have {cells:,} cells, too many for a workbook to decide in.",
            f"At most {MOST_CELLS:,}. Correct such tables where they come from.",
        )
    proposals = propose_of(study, supplied)
    from openpyxl import Workbook

    book = Workbook()
    _guide(book.worksheets[0])
    _listed(book.create_sheet(LIST), proposals)
    titles = titles_of(supplied)
    _files(book.create_sheet(FILES), supplied, titles)
    for key, one in supplied.items():
        _copy(book, titles[key], one, [p for p in proposals if (p.file, p.sheet) == key])
    book.active = 1
    for sheet in book.worksheets:
        sheet.sheet_view.tabSelected = sheet.title == LIST
    try:
        write_whole(path, saved_book(book), replace=False)
    except OSError as error:
        raise SettingError(f"'{path}' cannot be written ({error.strerror}).") from None
    n_proposed = sum(bool(p.proposed) for p in proposals)
    return MendBook(path=str(path), n_listed=len(proposals), n_proposed=n_proposed)


def titles_of(supplied: Mapping[tuple[str, str], Supplied]) -> dict[tuple[str, str], str]:
    """Return the name of the sheet that each table is copied to."""
    out = {}
    for i, (file, sheet) in enumerate(supplied, start=1):
        name = _NO_TITLE.sub(" ", sheet or Path(file.replace("\\", "/")).stem)
        out[file, sheet] = f"{i} {_ILLEGAL.sub('', name)}"[:31].rstrip()
    return out


def as_written(cell: Any) -> Any:
    """Return a cell as it is put into the workbook; what a sheet cannot hold, as text."""
    if isinstance(cell, BadCell):
        cell = cell.shown
    if isinstance(cell, str):
        return _ILLEGAL.sub("", cell)[:32_000]
    if isinstance(cell, float) and not abs(cell) < 1e300:
        return text(cell)
    if isinstance(cell, dt.datetime | dt.time) and cell.tzinfo is not None:
        return cell.isoformat()
    if isinstance(cell, int) and abs(cell) > 10**15:
        return str(cell)
    kinds = (int, float, dt.date, dt.time, dt.timedelta)
    return cell if cell is None or isinstance(cell, kinds) else str(cell)[:32_000]


def _put(sheet: Worksheet, row: int, column: int, cell: Any) -> Any:
    out = sheet.cell(row=row, column=column)
    out.value = as_written(cell)
    if isinstance(cell, str | BadCell):
        out.data_type = "s"  # a text that begins with "=" must not become a formula
    if isinstance(cell, dt.date):
        out.number_format = "yyyy-mm-dd"
    return out


def _guide(sheet: Worksheet) -> None:
    from openpyxl.styles import Alignment, Font

    sheet.title = READ_ME
    sheet.column_dimensions["A"].width = 100
    sheet["A1"] = "How to decide about odd cells"
    sheet["A1"].font = Font(bold=True, size=14)
    choices = [f"{word}: {meaning}." for word, meaning in CHOICES.items()]
    for i, line in enumerate((*GUIDE, *choices), start=3):
        cell = _put(sheet, i, 1, line)
        cell.alignment = Alignment(wrap_text=True, vertical="top")


def _listed(sheet: Worksheet, proposals: Sequence[Proposal]) -> None:
    from openpyxl.styles import Alignment, Font, PatternFill
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    for j, head in enumerate(HEADS, start=1):
        _put(sheet, 1, j, head).font = Font(bold=True)
    for i, p in enumerate(proposals, start=2):
        told = (
            i - 1, p.file, p.sheet, p.row or None, p.column, p.engine, p.value, p.severity, p.code,
            p.reason, p.cure, _DONE.get(p.action, p.action), p.proposed,
        )  # fmt: skip
        for j, cell in enumerate(told, start=1):
            _put(sheet, i, j, cell).alignment = Alignment(wrap_text=j in (10, 11), vertical="top")
        fill = PatternFill("solid", start_color=COLOURS[p.severity])
        sheet.cell(row=i, column=8).fill = fill
        for j in (13, 14, 15, 16, 17):
            sheet.cell(row=i, column=j).number_format = "@"
        if not p.row:
            _put(sheet, i, 14, LEAVE)
    widths = (5, 16, 12, 7, 16, 14, 18, 10, 20, 50, 50, 16, 16, 14, 16, 30, 18)
    for j, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(j)].width = width
    rule = DataValidation(
        type="list", formula1=f'"{",".join(CHOICES)}"', allow_blank=True, showErrorMessage=True,
        errorTitle="decision", error=f"Choose one of: {', '.join(CHOICES)}.",
    )  # fmt: skip
    rule.add(f"N2:N{len(proposals) + 200}")
    sheet.add_data_validation(rule)
    sheet.freeze_panes = "A2"
    sheet.auto_filter.ref = f"A1:{get_column_letter(len(HEADS))}{max(len(proposals) + 1, 2)}"


def _files(
    sheet: Worksheet,
    supplied: Mapping[tuple[str, str], Supplied],
    titles: Mapping[tuple[str, str], str],
) -> None:
    from openpyxl.styles import Font

    for j, head in enumerate(FILE_HEADS, start=1):
        _put(sheet, 1, j, head).font = Font(bold=True)
    for i, (key, s) in enumerate(supplied.items(), start=2):
        told = (*key, s.digest, s.file.shape, len(s.rows), titles[key])
        for j, cell in enumerate(told, start=1):
            _put(sheet, i, j, cell)
    sheet.column_dimensions["C"].width = 68


def _copy(book: Workbook, title: str, of: Supplied, proposals: Sequence[Proposal]) -> None:
    """Copy one table, colour its odd cells, and say of each row in words what the colours say."""
    from openpyxl.comments import Comment
    from openpyxl.styles import Font, PatternFill

    sheet: Worksheet = book.create_sheet(title)
    width = len(of.table.header)
    for row, cells in of.lines():
        width = max(width, len(cells))
        for j, cell in enumerate(cells, start=1):
            if cell is not None and cell != "":
                _put(sheet, row, j, cell)
    mark = width + 1
    for j in range(1, len(of.table.header) + 1):
        sheet.cell(row=of.table.header_row, column=j).font = Font(bold=True)
    _put(sheet, of.table.header_row, mark, MARK).font = Font(bold=True)
    told: dict[tuple[int, int], list[Proposal]] = {}
    for p in proposals:
        at = of.position(p.column) if p.column else None
        told.setdefault((p.row, mark if at is None else at + 1), []).append(p)
    words: dict[int, list[str]] = {}
    for (row, column), alike in told.items():
        if not row:
            continue
        worst = min((p.severity for p in alike), key=SEVERITIES.index)
        cell = sheet.cell(row=row, column=column)
        cell.fill = PatternFill("solid", start_color=COLOURS[worst])
        cell.font = Font(bold=worst == "error", italic=worst == "note")
        note = "\n".join(f"{p.severity}: {p.reason} {p.cure}".strip() for p in alike)
        cell.comment = Comment(_ILLEGAL.sub("", note)[:2000], "fleetstats", height=140, width=340)
        names = ", ".join(dict.fromkeys(p.column for p in alike if p.column)) or "row"
        words.setdefault(row, []).append(f"{worst}: {names}")
    for row, parts in words.items():
        _put(sheet, row, mark, "; ".join(parts))
    sheet.freeze_panes = f"A{of.table.header_row + 1}"
