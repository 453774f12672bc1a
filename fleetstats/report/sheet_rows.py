"""The rows of a workbook's sheet as the text that the library would write, cell by cell.

A table of all engines has a cell for each engine and column; the library makes an object and a tree
of elements of each, which took longer than working the figures out. Heads, widths and styles
stay the library's.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from xml.sax.saxutils import escape

from fleetstats.document.cells import Cell, neutral_text
from fleetstats.document.document import Table

XLSX_TEXT = 32_767
FORMATS = {"hours": "#,##0", "percent": "0.0%", "count": "#,##0", "money": "#,##0.00"}
"""How numbers of a kind are shown; those of other kinds as they are."""

HEAD_END = b"</row></sheetData>"
"""What ends a sheet that has its head alone."""


def rows_xml(table: Table, most: int, style_of: Callable[[str], int]) -> bytes:
    """Return the rows of a table, from the second row of its sheet on.

    Parameters
    ----------
    table : Table
        As composed.
    most : int
        Rows that a sheet holds.
    style_of : callable
        The number of the style with a number format, registered in the workbook when first asked.
    """
    from openpyxl.utils import get_column_letter

    columns = [(get_column_letter(j + 1), FORMATS.get(c.kind, ""))
               for j, c in enumerate(table.columns)]  # fmt: skip
    styles: dict[str, str] = {"": ""}
    texts: dict[str, str] = {}
    out = []
    for i, row in enumerate(table.rows[:most], start=2):
        cells = []
        for (letter, form), value in zip(columns, row, strict=True):
            said = value if type(value) is str else _said(value)
            if isinstance(said, str):
                if said not in texts:
                    texts[said] = _text_cell(said)
                cells.append(f'<c r="{letter}{i}" {texts[said]}')
            elif said is not None:
                if form not in styles:
                    styles[form] = f' s="{style_of(form)}"'
                cells.append(f'<c r="{letter}{i}"{styles[form]} t="n"><v>{said:.16g}</v></c>')
        out.append(f'<row r="{i}">{"".join(cells)}</row>' if cells else f'<row r="{i}" />')
    return "".join(out).encode()


def _said(value: Cell) -> str | float | None:
    """Return what stands in a cell: text, a number, or nothing."""
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "yes" if value else "no"
    x = float(value)
    if math.isnan(x):
        return None
    return "no limit" if math.isinf(x) else x


def _text_cell(text: str) -> str:
    """Return the cell of a text, from where its place is told."""
    kept = neutral_text(text)[:XLSX_TEXT]
    if not kept:
        return 't="inlineStr" />'
    bare = kept.strip()
    space = ' xml:space="preserve"' if bare and bare != kept else ""
    return f't="inlineStr"><is><t{space}>{escape(kept)}</t></is></c>'


def with_rows(sheet: bytes, rows: bytes) -> bytes:
    """Return the text of a sheet that has its head alone, with its rows put in."""
    head, end, tail = sheet.rpartition(HEAD_END)
    if not end:
        raise AssertionError("The library writes the end of a sheet in another way.")
    return head + b"</row>" + rows + b"</sheetData>" + tail


def order_of(names: Sequence[str]) -> dict[str, str]:
    """Return the part of the workbook that each sheet is, by its name, in their order."""
    return {name: f"xl/worksheets/sheet{k}.xml" for k, name in enumerate(names, start=1)}
