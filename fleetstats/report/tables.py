"""Tables and figure data as CSV, and all tables as one workbook.

Numbers stay numbers; text that a spreadsheet would take for a formula is neutralised. The bytes
depend on the content only.
"""

from __future__ import annotations

import contextlib
import csv
import io
import itertools
import math
import re
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from fleetstats.document.cells import UNITS, Cell, column_head, neutral_text, plain_text
from fleetstats.document.document import Document, Figure, Table
from fleetstats.document.parts import find_figures, find_tables
from fleetstats.report.sheet_rows import XLSX_TEXT, order_of, rows_xml, with_rows
from fleetstats.tables.saved_book import FIRST_TIME, saved_book
from fleetstats.vocabulary.caution import STANDING_NOTICE

if TYPE_CHECKING:
    from openpyxl import Workbook

XLSX_ROWS = 1_048_575
FIXED_DATE = "2000-01-01T00:00:00Z"
"""Stands in the workbook in place of the clock, so that equal content gives equal bytes."""


def _raw(value: Cell) -> str:
    if type(value) is str:
        return neutral_text(value)
    if type(value) is float and math.isfinite(value):
        return repr(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return neutral_text(value)
    if isinstance(value, int | np.integer):
        return str(int(value))
    x = float(value)
    if math.isnan(x):
        return ""
    if math.isinf(x):
        return "inf" if x > 0 else "-inf"
    return repr(int(x)) if x == round(x) and abs(x) < 1e15 else repr(x)


def csv_text(rows: Iterable[Sequence[Cell]]) -> str:
    """Return rows as CSV (RFC 4180); numbers in full, text no formula."""
    return "".join(csv_lines(rows))


def csv_lines(rows: Iterable[Sequence[Cell]]) -> list[str]:
    """Return the lines of rows as CSV, each with its line end, as `csv_text` joins them."""
    return _lines(map(_raw, row) for row in rows)


def _lines(rows: Iterable[Iterable[str]]) -> list[str]:
    """Return the lines of rows whose cells are ready."""
    lines = _CsvLines()
    csv.writer(lines, lineterminator="\r\n").writerows(rows)
    return lines.all


class _CsvLines:
    """Takes what a CSV writer writes, one line at a time."""

    def __init__(self) -> None:
        self.all: list[str] = []
        self.write = self.all.append


def table_csv(table: Table) -> str:
    """Return a table as CSV (RFC 4180); the first row has the columns' keys."""
    return csv_text([[c.key for c in table.columns], *table.rows])


def codebook_csv(document: Document) -> str:
    """Return what every column of every table means: table, key, title, kind, unit, help."""
    rows: list[Sequence[Cell]] = [
        ("table", "table_title", "column", "title", "kind", "unit", "help")
    ]
    for t in find_tables(document):
        rows += [
            (t.key, t.title, c.key, column_head(c), c.kind, UNITS.get(c.kind, ""), c.help)
            for c in t.columns
        ]
    return csv_text(rows)


def figure_csv(figure: Figure) -> str:
    """Return the data behind a figure, one row per mark.

    `extrapolated` says "yes" for marks beyond the hours that the records support.
    """
    head = ("panel", "layer", "kind", "role", "name", "x", "x2", "y", "low", "high",
            "extrapolated")  # fmt: skip
    rows: list[Iterable[str]] = [head]
    for i, panel in enumerate(figure.panels):
        for layer in panel.layers:
            given = (layer.x, layer.x2, layer.y, layer.low, layer.high)
            columns = [[] if a is None else np.asarray(a, dtype=float).tolist() for a in given]
            n = max(len(a) for a in columns)
            columns = [a + [None] * (n - len(a)) for a in columns]
            edge = layer.extrapolated_from
            far = ["yes" if edge is not None and x is not None and x > edge else ""
                   for x in columns[0]]  # fmt: skip
            names = [*layer.names[:n], *[""] * (n - len(layer.names))]
            told = map(_raw, (panel.title or str(i + 1), layer.label, layer.kind, layer.role))
            same = (itertools.repeat(cell, n) for cell in told)
            each = (map(_raw, column) for column in (names, *columns))
            rows += zip(*same, *each, far, strict=True)
    return "".join(_lines(rows))


def tables_xlsx(document: Document) -> bytes:
    """Return all tables as one workbook: a sheet each, a list of sheets in front.

    A table with more rows than a sheet holds is cut there, and the list says so; its CSV file is
    whole.
    """
    from openpyxl import Workbook
    from openpyxl.utils.exceptions import WorkbookAlreadySaved

    book = Workbook(write_only=True)
    try:
        rows = _put_sheets(book, document)
        return _fix_clock(saved_book(book), rows)
    except MemoryError:
        for sheet in book.worksheets:  # one that is left open complains on the screen as it goes
            with contextlib.suppress(WorkbookAlreadySaved, MemoryError):
                sheet.close()
        raise


def _put_sheets(book: Workbook, document: Document) -> dict[str, bytes]:
    """Put the sheets of a report's tables into a workbook; return the rows that they still lack."""
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    tables = find_tables(document)
    names = _sheet_names(tables)
    front = book.create_sheet("Contents")
    bold = Font(bold=True)

    def text_cell(sheet: object, text: str, font: Font | None = None) -> object:
        cell = WriteOnlyCell(sheet, value=neutral_text(text)[:XLSX_TEXT])  # type: ignore[arg-type]
        cell.data_type = "s"
        if font is not None:
            cell.font = font
        return cell

    front.append([text_cell(front, document.title, bold)])
    front.append([text_cell(front, f"Report {document.report_id}")])
    for line in STANDING_NOTICE:
        front.append([text_cell(front, line)])
    front.append([])
    front.append([text_cell(front, t, bold) for t in ("Sheet", "Table", "What to see", "Rows")])
    for t in tables:
        note = t.see
        if len(t.rows) > XLSX_ROWS:
            note = f"Only the first {XLSX_ROWS:,} rows are here; see the CSV file. {note}"
        front.append([*(text_cell(front, s) for s in (names[t.key], t.title, note)), len(t.rows)])

    def style_of(form: str) -> int:
        cell = WriteOnlyCell(front, value=0)
        cell.number_format = form
        return int(cell.style_id)

    part = order_of(["Contents", *(names[t.key] for t in tables)])
    rows: dict[str, bytes] = {}
    for t in tables:
        sheet = book.create_sheet(names[t.key])
        sheet.freeze_panes = "A2"
        for j, c in enumerate(t.columns):
            sheet.column_dimensions[get_column_letter(j + 1)].width = min(
                48, max(10, len(column_head(c)) + 2)
            )
        heads = [text_cell(sheet, column_head(c), bold) for c in t.columns]
        for h in heads:
            h.alignment = Alignment(wrap_text=True, vertical="top")  # type: ignore[attr-defined]
        sheet.append(heads)
        rows[part[names[t.key]]] = rows_xml(t, XLSX_ROWS, style_of)
    return rows


def _sheet_names(tables: Sequence[Table]) -> dict[str, str]:
    """Give each table a sheet name: at most 31 characters, none forbidden, none twice."""
    out: dict[str, str] = {}
    used = {"contents"}
    for t in tables:
        base = re.sub(r"[\[\]:*?/\\']", " ", plain_text(t.key))[:31].strip() or "table"
        name, i = base, 2
        while name.lower() in used:
            name = f"{base[:27]} {i}"
            i += 1
        used.add(name.lower())
        out[t.key] = name
    return out


def _fix_clock(book: bytes, rows: Mapping[str, bytes]) -> bytes:
    """Write the workbook's parts again, in order, without the time of day, sheets with rows."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(book)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as new,
    ):
        for name in old.namelist():
            data = old.read(name)
            if name == "docProps/core.xml":
                data = re.sub(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*",
                              rb"\g<1>" + FIXED_DATE.encode(), data)  # fmt: skip
                data = re.sub(rb"<dc:creator>[^<]*</dc:creator>",
                              b"<dc:creator>fleetstats</dc:creator>", data)  # fmt: skip
            if name in rows:
                data = with_rows(data, rows[name])
            new.writestr(zipfile.ZipInfo(name, FIRST_TIME), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def all_csv(document: Document) -> dict[str, str]:
    """Return every data file of the report: path within the report folder = CSV text."""
    out = {f"tables/{t.key}.csv": table_csv(t) for t in find_tables(document)}
    out |= {f"figures/{f.key}.csv": figure_csv(f) for f in find_figures(document)}
    out["tables/columns.csv"] = codebook_csv(document)
    return out
