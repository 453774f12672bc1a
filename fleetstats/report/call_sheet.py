"""A list of calls to print and fill in, which the reader of shape "lives" takes back as it stands.

A line without an answer is set aside with a note, by its number of the call. Hours are since new,
on the engine's own meter, so that the owner's clock can be written down as it is read.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fleetstats.chapters.calls import CallLine, CallList
from fleetstats.core.errors import SettingError
from fleetstats.core.files import write_whole
from fleetstats.document.cells import neutral_text
from fleetstats.tables.saved_book import saved_book
from fleetstats.vocabulary.meters import METER_WORDS
from fleetstats.vocabulary.slugs import suffix_of

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

SHEET = "Calls"
"""Name of the sheet to fill in."""

KNOWN = (
    "Call no.", "Engine", "Reported by", "Build", "Known hours [h]", "Known on",
    "Overhauled at hours [h]", "Expected hours today [h]",
)  # fmt: skip
"""What is known; the reader takes number, engine, owner, build and overhaul."""

BOXES = (
    "Hours now [h]", "Date of reading", "Meter", "Outcome", "Since when", "Reason",
    "Remarks",
)  # fmt: skip
"""What is asked."""

ANSWERS = ("running", "failed", "removed", "planned-overhaul",
           "removed-finding")  # fmt: skip
"""Words offered for what happened, in the reader's own."""

WIDTHS = (6, 14, 18, 12, 11, 12, 12, 12, 12, 13, 9, 17, 12, 16, 30)


DATES = tuple((*KNOWN, *BOXES).index(h) + 1 for h in ("Known on", "Date of reading", "Since when"))

GUIDE = (
    "Fill in what you are told; a line without an answer counts for nothing and may stay.",
    "Hours now are since new, as the engine's own meter shows them; say which meter if it is "
    "another than the one written.",
    "An engine that failed or was taken off: the hours and the date ('Since when') of that, and "
    "the reason. Bad news counts as much as good news: write down every answer.",
    "An engine that was overhauled since needs two lines: one for the life until then, one since.",
)


def check_place(path: Path) -> None:
    """Raise SettingError where a list cannot be written under this name."""
    if suffix_of(path) not in (".xlsx", ".csv"):
        raise SettingError(
            f"'{path.name}' is no name for a list of calls.", "End it in .xlsx or .csv."
        )


def write_call_sheet(calls: CallList, path: Path) -> Path:
    """Write the list, as a workbook or as CSV by the end of its name.

    Parameters
    ----------
    calls : CallList
        The list.
    path : Path
        File to write; replaced whole or not at all.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    SettingError
        If the name ends in neither ``.xlsx`` nor ``.csv``.
    """
    path = Path(path)
    check_place(path)
    rows = [_row(x) for x in calls.lines]
    write_whole(path, _csv(rows) if suffix_of(path) == ".csv" else _xlsx(calls, rows))
    return path


def _row(x: CallLine) -> tuple[Any, ...]:
    expected = None if x.expected_h is None else round(x.expected_h)
    known = (x.call, x.engine, x.source, x.build, x.known_h, x.known_on, x.overhauled_at_h,
             expected)  # fmt: skip
    meter = x.meter if x.known_h is not None else None
    return (*known, None, None, meter, None, None, None, None)


def _csv(rows: Sequence[tuple[Any, ...]]) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow((*KNOWN, *BOXES))
    writer.writerows([_plain(c) for c in row] for row in rows)
    return out.getvalue().encode("utf-8")


def _plain(cell: Any) -> Any:
    """Return a cell of a table without types: no text that a spreadsheet takes for a formula."""
    return "" if cell is None else neutral_text(cell) if isinstance(cell, str) else cell


def _xlsx(calls: CallList, rows: Sequence[tuple[Any, ...]]) -> bytes:
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.properties import PageSetupProperties

    book = Workbook()
    sheet: Worksheet = book.worksheets[0]
    sheet.title = SHEET
    line = Side(style="thin", color="FF808080")
    for i, head in enumerate((*KNOWN, *BOXES), start=1):
        cell = sheet.cell(row=1, column=i, value=head)
        cell.font = Font(bold=True)
        cell.fill = PatternFill("solid", start_color="FFF2F2F2" if i <= len(KNOWN) else "FFE3ECF4")
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        sheet.column_dimensions[get_column_letter(i)].width = WIDTHS[i - 1]
    for r, row in enumerate(rows, start=2):
        for i, told in enumerate(row, start=1):
            cell = sheet.cell(row=r, column=i, value=told)
            if isinstance(told, str):
                cell.data_type = "s"  # a name that begins with "=" must not become a formula
            if i in DATES:
                cell.number_format = "yyyy-mm-dd"
            if i > len(KNOWN):
                cell.border = Border(left=line, right=line, top=line, bottom=line)
    _offer(sheet, len(rows) + 1)
    sheet.freeze_panes = "C2"
    sheet.print_title_rows = "1:1"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    about: Worksheet = book.create_sheet("Read me")
    about.column_dimensions["A"].width = 100
    for r, text in enumerate((*GUIDE, calls.sentence, *calls.assumptions), start=1):
        about.cell(row=r, column=1, value=text).alignment = Alignment(
            wrap_text=True, vertical="top"
        )
    return saved_book(book)


def _offer(sheet: Worksheet, last: int) -> None:
    """Offer the words of our own for what happened and for the meter."""
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    for head, words, strict in (("Outcome", ANSWERS, True), ("Meter", METER_WORDS, False)):
        rule = DataValidation(
            type="list",
            formula1='"' + ",".join(words) + '"',
            allow_blank=True,
            showErrorMessage=strict,
            errorTitle=head,
            error="Choose one of the words in the list, or leave the cell empty.",
        )
        letter = get_column_letter((*KNOWN, *BOXES).index(head) + 1)
        rule.add(f"{letter}2:{letter}{last}")
        sheet.add_data_validation(rule)
