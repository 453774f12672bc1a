"""Cells of tables: as a reader sees them, and as a spreadsheet may safely hold them."""

from __future__ import annotations

import dataclasses
import math
import re

from fleetstats.core.errors import ReportError
from fleetstats.core.units import text_decided
from fleetstats.document.document import Column, Table
from fleetstats.vocabulary.capitals import capital

COLUMN_KINDS = ("text", "hours", "percent", "number", "count", "money", "date")
UNITS = {"hours": "h", "percent": "share, 0 to 1", "count": "count", "date": "ISO 8601"}
"""Units of the numbers in data files, by kind of column; others carry theirs in the title."""

SHORT = 18
"""Columns whose texts are no longer keep each on one line."""
PADDING = 3.0
"""Letters that the space beside a cell takes."""

Cell = str | float | int | None

_DANGEROUS = frozenset("=+-@\t\r\n|\uff1d\uff0b\uff0d\uff20")
_CONTROL = re.compile(
    r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ufffe\uffff]|[\ud800-\udfff]"
)
"""Control characters, marks that turn the direction of text around, and broken code points."""
_UNIT = re.compile(r"(?<=\d) (?=(?:h|%|psi|kPa|EUR)(?![\w]))")


def plain_text(text: str) -> str:
    """Return text without characters that XML, spreadsheets or terminals cannot hold."""
    # what is printable holds none of them, and is told at once
    return text if text.isprintable() else _CONTROL.sub("\ufffd", text)


def set_text(text: str) -> str:
    """Return text for setting: cleaned, and a number kept on one line with its unit."""
    return _UNIT.sub("\u00a0", plain_text(text))


def neutral_text(text: str) -> str:
    """Return text that no spreadsheet takes for a formula.

    A text that starts with = + - @, tab, carriage return or their wide forms gets an apostrophe
    in front; leading blanks do not hide the sign. Common practice against formula injection
    (OWASP, "CSV Injection").
    """
    if text[:1].isalnum() and text.isprintable():  # as most texts are, told at once
        return text
    out = plain_text(text)
    first = out[:1]
    if first.isspace() and first not in _DANGEROUS:
        first = out.lstrip()[:1]
    return "'" + out if first in _DANGEROUS else out


def format_cell(value: Cell, kind: str, edge: str = "", beside: tuple[float, ...] = ()) -> str:
    """Write a cell for a reader. None and NaN become a dash; units stand in the column's head.

    A percent that is the ``"low"`` or ``"high"`` edge of a band is rounded down or up; a number
    that is compared with the limits `beside` shows on which side of them it lies.
    """
    if kind not in COLUMN_KINDS:
        raise ReportError(f"Table: unknown kind of column '{kind}'.", f"Use {COLUMN_KINDS}.")
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return plain_text(value)
    x = float(value)
    if math.isnan(x):
        return "–"
    if math.isinf(x):
        return "no limit" if x > 0 else "no lower limit"
    if kind == "hours":
        text = f"{x:,.0f}" if abs(x) >= 10 or x == round(x) else f"{x:.2g}"
        if beside:
            text = text_decided(x, *beside, unit="h").removesuffix(" h")
    elif kind == "percent" and edge and x >= 0:
        text = text_decided(x, *beside, edge=edge)
    elif kind == "percent":
        text = _percent(x, beside) if x >= 0 else "-" + _percent(-x, ())
    elif kind == "count":
        text = f"{x:,.0f}" if abs(x - round(x)) < 1e-9 else f"{x:,.1f}"
    elif kind == "money":
        text = f"{x:,.2f}" if abs(x) < 1000 else f"{x:,.0f}"
    else:
        whole = x == round(x) and abs(x) < 1e10
        text = (f"{x:.0f}" if abs(x) < 10_000 else f"{x:,.0f}") if whole else _number(x, beside)
    return text.replace("-", "−") if text[:1] == "-" else text


def _number(x: float, beside: tuple[float, ...]) -> str:
    """Write a plain number with three digits, below 1 with two: no figure here carries more."""
    return text_decided(x, *beside, unit="", digits=2 if abs(x) < 1 else 3)


def _percent(x: float, beside: tuple[float, ...]) -> str:
    return "< 0.0001 %" if 0.0 < x < 5e-7 else text_decided(x, *beside)


def show_cell(value: Cell, column: Column) -> str:
    """Write a cell of a column for a reader, as `format_cell` does."""
    return format_cell(value, column.kind, column.edge, column.beside)


def column_head(column: Column) -> str:
    """Return a column's title, capitalised, with its unit where the cells carry none."""
    title = capital(column.title)
    if column.kind == "hours" and not re.search(r"\bh\b|hours", title, re.IGNORECASE):
        return f"{title} (h)"
    return title


def drop_empty(table: Table) -> Table:
    """Return a table without its columns of texts that are empty all the way down.

    For page and paper, where they only take room; the data file keeps them.
    """
    keep = [
        j
        for j, c in enumerate(table.columns)
        if c.kind != "text" or not table.rows or any(row[j] not in (None, "") for row in table.rows)
    ]
    if len(keep) == len(table.columns):
        return table
    return dataclasses.replace(
        table,
        columns=tuple(table.columns[j] for j in keep),
        rows=tuple(tuple(row[j] for j in keep) for row in table.rows),
    )


def table_width(table: Table, *, rows: int = 400) -> float:
    """Return about how wide a table must be to be read without scrolling, in letters.

    Figures and short texts stay on one line, longer texts may break at 14 letters; heads break
    between words, with room for the mark by which a column is sorted.
    """
    total = 0.0
    for j, column in enumerate(table.columns):
        cells = [show_cell(row[j], column) for row in table.rows[:rows]]
        longest = max((len(c) for c in cells), default=0)
        if not is_number(column) and longest > SHORT:
            longest = max(14, *(len(w) for c in cells for w in c.split()), 0)
        head = max((len(w) for w in column_head(column).split()), default=0) + 2
        total += max(longest, head) + PADDING
    return total


def is_number(column: Column) -> bool:
    """Tell whether a column holds numbers, which stand right-aligned."""
    return column.kind not in ("text", "date")


def check_table(table: Table) -> None:
    """Raise `ReportError` when a row of a table has not one cell for each column."""
    for i, row in enumerate(table.rows):
        if len(row) != len(table.columns):
            raise ReportError(
                f"Table '{table.key}', row {i + 1}: {len(row)} cells.",
                f"It has {len(table.columns)} columns.",
            )
    for column in table.columns:
        if column.kind not in COLUMN_KINDS:
            raise ReportError(
                f"Table '{table.key}': column '{column.key}' has kind '{column.kind}'.",
                f"Use one of {', '.join(COLUMN_KINDS)}.",
            )
