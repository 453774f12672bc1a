"""The tables of the page: cells as texts, and as stacked rows where a page is narrow."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from fleetstats.document.cells import (
    SHORT,
    column_head,
    drop_empty,
    is_number,
    set_text,
    show_cell,
    table_width,
)
from fleetstats.document.document import Column, Table

ROWS_SHOWN = 400
"""Longer tables are cut in the page, with a note; their data files are whole."""
BROAD, DENSE = 84, 122
"""Letters across a table from which it may use the margin as well, and from which it is set in
smaller letters."""
LONG, LONGER = 40, 90
"""Letters of the longest text from which a column is kept from being squeezed, a little or more."""
NARROW = 44
"""Letters across a table from which its rows are stacked on a page of 400 px."""


def page_table(table: Table) -> dict[str, Any]:
    """Return a table as the page's template sees it."""
    facts = len(table.columns) == 2 and all(c.kind == "text" for c in table.columns)
    facts = facts and not any(c.title for c in table.columns)
    table = drop_empty(table)
    rows = []
    shown = table.rows[:ROWS_SHOWN]
    longest = [
        max((len(str(row[j])) for row in shown if row[j] is not None), default=0)
        for j in range(len(table.columns))
    ]
    for row in shown:
        cells = []
        for value, column, longest_text in zip(row, table.columns, longest, strict=True):
            number = is_number(column)
            sort: str | None = None
            if number:
                x = float(value) if isinstance(value, int | float) else math.nan
                sort = "" if math.isnan(x) else repr(x)
            text = show_cell(value, column)
            short = not number and longest_text <= SHORT
            cells.append({"text": set_text(text), "num": number, "sort": sort, "short": short})
        rows.append(cells)
    width = table_width(table, rows=ROWS_SHOWN)
    cut = ""
    if len(table.rows) > ROWS_SHOWN:
        cut = f"The first {ROWS_SHOWN} of {len(table.rows):,} rows are shown."
    return {
        "key": table.key,
        "title": set_text(table.title),
        "see": set_text(table.see),
        "folded": table.folded,
        "facts": facts,
        "broad": not facts and width > BROAD,
        "dense": not facts and width > DENSE,
        "stacked": not facts and width > NARROW,
        "live": len(table.rows) > 3 and not facts,
        "row_heads": table.columns[0].kind == "text",
        "cut": cut,
        "columns": [
            {
                "title": column_head(c),
                "num": is_number(c),
                "help": set_text(c.help),
                "long": _long(c, n),
            }
            for c, n in zip(table.columns, longest, strict=True)
        ],
        "rows": rows,
    }


def _long(column: Column, longest: int) -> str:
    """Return how a column of long texts is kept from being squeezed: "", "long" or "longer"."""
    if is_number(column) or longest <= LONG:
        return ""
    return "long" if longest <= LONGER else "longer"


def stack_css(tables: Iterable[dict[str, Any]]) -> str:
    """Return the style by which each cell of a stacked row names its column.

    On a narrow page a row is a small block of heads and values, so that no column lies outside it.
    """
    rules = []
    for table in tables:
        if not table["stacked"]:
            continue
        for j, column in enumerate(table["columns"]):
            if column["title"] and not (j == 0 and table["row_heads"]):
                rules.append(
                    f"#table-{table['key']} tbody tr>:nth-child({j + 1})::before"
                    f'{{content:"{css_string(column["title"])}: "}}'
                )
    return "@media screen and (max-width: 34rem) {\n" + "\n".join(rules) + "\n}\n" if rules else ""


def css_string(text: str) -> str:
    """Return text that may stand between quotes in a style sheet inside a page."""
    return "".join(c if c.isalnum() or c in " .,-·:" else f"\\{ord(c):x} " for c in text)
