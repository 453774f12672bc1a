"""A workbook to send to members: one sheet to fill in, with drop-down lists and comments.

The sheet's columns are those of the reader, so a return needs no mapping. Its example row is set
aside by the reader, by its engine id.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fleetstats.core.errors import SettingError
from fleetstats.core.files import write_whole
from fleetstats.records.life import EXAMPLE_ENGINE
from fleetstats.tables.saved_book import saved_book
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.endings import ENDINGS
from fleetstats.vocabulary.events import KINDS
from fleetstats.vocabulary.fields.field import Field
from fleetstats.vocabulary.fields.histories import OFFERED_FIELDS, STATUS
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.meters import METER_WORDS
from fleetstats.vocabulary.slugs import suffix_of

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

SHEETS = {"lives": "Engines", "log": "Events", "histories": "Histories"}
"""Name of the sheet to fill in, by record shape."""

ROWS = 1000
"""Rows with drop-down lists."""

COMMON_CAUSES = (
    "planned overhaul", "prop strike", "accident", "upgrade", "sold", "stored", "no fault found",
    "crankshaft", "gearbox", "cylinder", "piston", "exhaust valve", "bearing", "turbocharger",
)  # fmt: skip
"""Causes offered; any other may be typed."""

COMPONENTS = ("crankshaft", "gearbox", "cylinder", "turbocharger")

COLUMNS = {"lives": LIFE_FIELDS, "log": LOG_FIELDS, "histories": OFFERED_FIELDS}
"""The columns of each shape."""

WORDS = {"lives": ENDINGS, "log": KINDS, "histories": {w: ENDINGS[w] for w in STATUS}}
"""The fixed words of each shape, with their meanings."""

WORDS_HEAD = {
    "lives": "Words for how an engine ended",
    "log": "Words for what happened",
    "histories": "Words for how an engine stands now",
}

LEFT_OUT = {
    "lives": ("count", "source", "since_overhaul_hours", "call"),
    "log": ("source", "new_reading_hours"),
    "histories": ("source",),
}
"""Columns that a member need not see: one row is one engine, and the file says who sent it."""

EXAMPLES: dict[str, dict[str, Any]] = {
    "lives": {
        "engine": EXAMPLE_ENGINE,
        "build": "B1",
        "entry_hours": 600,
        "exit_hours": 1180,
        "last_good_hours": 1130,
        "ending": "found-at-check",
        "cause": "exhaust valve",
        "confirmed": "yes",
        "in_service_date": dt.date(2014, 5, 12),
        "observed_from_date": dt.date(2019, 6, 30),
        "ended_date": dt.date(2025, 8, 9),
        "meter": "tach",
        "note": "An example: this row is never counted. Leave it or delete it.",
    },
    "log": {
        "engine": EXAMPLE_ENGINE,
        "date": dt.date(2025, 6, 2),
        "hours": 812.4,
        "kind": "removed",
        "cause": "exhaust valve",
        "confirmed": "yes",
        "meter": "tach",
        "note": "An example: this row is never counted. Leave it or delete it.",
    },
    "histories": {
        "engine": EXAMPLE_ENGINE,
        "build": "B1",
        "in_service_date": dt.date(2014, 5, 12),
        "failed_at_1": 812.4,
        "failure_1_date": dt.date(2019, 6, 2),
        "cause_1": "exhaust valve",
        "work_done_1": "top overhaul",
        "back_in_service_at_1": 812.4,
        "hours_now": 1180,
        "last_reading_date": dt.date(2025, 8, 9),
        "ending": "running",
        "meter": "tach",
        "note": "An example: this row is never counted. Leave it or delete it.",
    },
}

GUIDE = {
    "lives": (
        "One row is one engine, from when you first knew its hours until now or until its end.",
        "List every engine that you have or had, above all those that still run: without them the "
        "failures say nothing.",
        "An engine that you followed from new has no entry hours. If you first heard of it at "
        "600 h, its entry hours are 600.",
        "Ending is 'running' for an engine in service. An engine taken off because its hours or "
        "years were up is 'planned-overhaul'; one taken off because something was found is "
        "'removed-finding'. The two mean different things.",
        "A fault found at a check: give the hours of the last clean check before it.",
        "After an overhaul the engine has a new row, with the hours at that overhaul.",
    ),
    "log": (
        "One row is one event of one engine: put into service, hours read, checked, removed, "
        "overhauled, returned, failed, retired, modified, a part taken off or put on.",
        "List every engine that you have or had, above all those that still run: a last hours "
        "reading of each is worth more than anything else.",
        "Hours are those of the engine's own clock, and never run backwards. A new meter is an "
        "event of its own.",
        "A clean check is an event too: it says that the engine was good at those hours.",
        "For a part, name the component, its serial, and its place where an engine has several.",
    ),
    "histories": (
        "One row is one engine, from new or from when you first knew its hours until now, whatever "
        "happened in between.",
        "List every engine that you have or had, above all those that never failed: without them "
        "the failures say nothing.",
        "Each failure has its hours, its cause and what was done; the engine goes on in the same "
        "row. For a fourth failure add columns with the number 4.",
        "Hours are what the meter of the day showed. Where it was changed, say at which hours, and "
        "what the new one showed.",
        "Write the date beside the hours where you have it: it settles what came first.",
    ),
}
"""What the guide sheet says, by shape."""

GUIDE_ALL = (
    "Hours: say which meter they are from. Tach, Hobbs and flight hours are not the same.",
    "Leave empty what you do not know. A guess is worse than a gap.",
    "Dates are year-month-day. Names of owners and registrations are not wanted.",
    "Point at a column's head for what it means; cells with a list show an arrow.",
    "Before sending, run: fleetstats check-return FILE. It says what would be counted and what "
    "not.",
)


def write_return_template(
    path: str | Path,
    *,
    shape: str = "lives",
    builds: Sequence[str] = (),
    causes: Sequence[str] = COMMON_CAUSES,
) -> Path:
    """Write a workbook for members to fill in.

    Parameters
    ----------
    path : str or Path
        File to write, ending in ``.xlsx``; replaced whole or not at all.
    shape : {"lives", "log", "histories"}
        One row per engine life, per event, or per engine with its history in columns.
    builds, causes : sequence of str
        Words to offer; others may be typed.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    SettingError
        If the shape is unknown or the name does not end in ``.xlsx``.
    """
    path = Path(path)
    if shape not in SHEETS:
        raise SettingError(f"shape = '{shape}'.", f"It must be one of {', '.join(SHEETS)}.")
    if suffix_of(path) != ".xlsx":
        raise SettingError(f"'{path.name}' is no name for a workbook.", "End it in .xlsx.")
    from openpyxl import Workbook

    book = Workbook()
    sheet: Worksheet = book.worksheets[0]
    sheet.title = SHEETS[shape]
    fields = tuple(f for f in COLUMNS[shape] if f.name not in LEFT_OUT[shape])
    _heads(sheet, fields)
    _example(sheet, fields, EXAMPLES[shape])
    choices = {
        "ending": (tuple(WORDS[shape]), True),
        "kind": (tuple(KINDS), True),
        "confirmed": (("yes", "no"), True),
        "found_at_teardown": (("yes", "no"), True),
        "meter": (tuple(METER_WORDS), True),
        "cause": (tuple(causes), False),
        "build": (tuple(builds), False),
        "modified_to": (tuple(builds), False),
        "component": (COMPONENTS, False),
    }
    _guide(book, shape)
    _lists(book, sheet, fields, choices)
    _limits(sheet, fields)
    book.active = 1
    for other in book.worksheets:
        other.sheet_view.tabSelected = other is book.worksheets[1]
    write_whole(path, saved_book(book))
    return path


def head_of(field: Field) -> str:
    """Return a column's head as the sheet shows it; the reader knows it by the same words."""
    name = field.name.replace("_", " ")
    return capital(name) + (f" [{field.unit}]" if field.unit else "")


def _heads(sheet: Worksheet, fields: tuple[Field, ...]) -> None:
    from openpyxl.comments import Comment
    from openpyxl.styles import Alignment, Font, PatternFill
    from openpyxl.utils import get_column_letter

    for i, f in enumerate(fields, start=1):
        cell = sheet.cell(row=1, column=i, value=head_of(f))
        cell.font = Font(bold=True)
        shade = "FFE3ECF4" if f.required else "FFF2F2F2"
        cell.fill = PatternFill("solid", start_color=shade)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        need = "Needed. " if f.required else ""
        cell.comment = Comment(f"{need}{f.doc}", "fleetstats", height=120, width=320)
        sheet.column_dimensions[get_column_letter(i)].width = max(12, min(24, len(head_of(f)) + 3))
    sheet.row_dimensions[1].height = 32
    sheet.freeze_panes = "B2"


def _example(sheet: Worksheet, fields: tuple[Field, ...], example: dict[str, Any]) -> None:
    from openpyxl.styles import Font

    for i, f in enumerate(fields, start=1):
        cell = sheet.cell(row=2, column=i, value=example.get(f.name))
        cell.font = Font(italic=True, color="FF808080")
        if isinstance(example.get(f.name), dt.date):
            cell.number_format = "yyyy-mm-dd"


def _lists(
    book: Workbook,
    sheet: Worksheet,
    fields: tuple[Field, ...],
    choices: dict[str, tuple[tuple[str, ...], bool]],
) -> None:
    """Put the words offered on a sheet of their own, and point the columns at them."""
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    lists: Worksheet = book.create_sheet("Lists")
    lists.sheet_state = "hidden"
    for i, f in enumerate(fields, start=1):
        words, strict = choices.get(f.name, ((), False))
        if not words:
            continue
        column = get_column_letter(lists.max_column + 1 if lists["A1"].value else 1)
        for k, word in enumerate((f.name, *words), start=1):
            cell = lists[f"{column}{k}"]
            cell.value = word
            cell.data_type = "s"  # a word that begins with "=" must not become a formula
        rule = DataValidation(
            type="list",
            formula1=f"Lists!${column}$2:${column}${len(words) + 1}",
            allow_blank=True,
            showErrorMessage=strict,
            errorTitle=head_of(f),
            error="Choose one of the words in the list, or leave the cell empty.",
        )
        letter = get_column_letter(i)
        rule.add(f"{letter}2:{letter}{ROWS + 2}")
        sheet.add_data_validation(rule)


def _limits(sheet: Worksheet, fields: tuple[Field, ...]) -> None:
    """Refuse hours below 0 and words in dates while they are typed."""
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    for i, f in enumerate(fields, start=1):
        letter = get_column_letter(i)
        area = f"{letter}2:{letter}{ROWS + 2}"
        if f.unit == "h":
            rule = DataValidation(
                type="decimal", operator="between", formula1="0", formula2="100000",
                allow_blank=True, showErrorMessage=True, errorTitle=head_of(f),
                error="Hours are a number from 0 on, as 1234.5.",
            )  # fmt: skip
        elif f.name == "date" or f.name.endswith("_date"):
            rule = DataValidation(
                type="date", operator="greaterThan", formula1="1", allow_blank=True,
                showErrorMessage=True, errorTitle=head_of(f),
                error="Enter a date, as 2026-03-31.",
            )  # fmt: skip
            sheet.column_dimensions[letter].number_format = "yyyy-mm-dd"
        else:
            continue
        rule.add(area)
        sheet.add_data_validation(rule)


def _guide(book: Workbook, shape: str) -> None:
    from openpyxl.styles import Alignment, Font

    guide: Worksheet = book.create_sheet("Read me")
    guide.column_dimensions["A"].width = 100
    guide["A1"] = "How to fill in this return"
    guide["A1"].font = Font(bold=True, size=14)
    lines = (*GUIDE[shape], *GUIDE_ALL)
    for i, line in enumerate(lines, start=3):
        cell = guide.cell(row=i, column=1, value=f"{i - 2}. {line}")
        cell.alignment = Alignment(wrap_text=True, vertical="top")
    row = len(lines) + 4
    guide.cell(row=row, column=1, value=WORDS_HEAD[shape]).font = Font(bold=True)
    for k, (word, meaning) in enumerate(WORDS[shape].items(), start=row + 1):
        guide.cell(row=k, column=1, value=f"{word}: {meaning}")
