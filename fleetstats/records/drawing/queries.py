"""Rows of a query, written as CSV."""

from __future__ import annotations

import csv
import datetime as dt
from decimal import Decimal
from pathlib import Path
from typing import IO, Any

from fleetstats.core.errors import ReadError
from fleetstats.core.limits import above, most
from fleetstats.records.drawing.adbc import ask_adbc, asks_for_adbc
from fleetstats.records.drawing.address import address_of
from fleetstats.records.drawing.alchemy import ask_alchemy
from fleetstats.study.record_settings import RecordKeys

ROWS = 10_000
"""Rows taken at a time."""


def draw_query(keys: RecordKeys, folder: Path, into: Path) -> list[str]:
    """Write what a query gives into a folder, as a CSV file of the record file's name.

    The transaction reads only and is rolled back.

    Parameters
    ----------
    keys : RecordKeys
        With `sql`, `database` and the name of the copy.
    folder : Path
        The study's folder: a path of SQLite is taken from there.
    into : Path
        Where to write.

    Raises
    ------
    SettingError
        If the library that speaks to databases, or the one for this kind, is not installed, or the
        environment lacks the address.
    ReadError
        If there is no such database, two columns have one name, or too many rows come.
    """
    address = address_of(keys.database)
    ask = ask_adbc if asks_for_adbc(address) else ask_alchemy
    with (
        ask(address, keys.sql, folder) as (names, found),
        (into / keys.file).open("w", newline="", encoding="utf-8") as f,
    ):
        _write(names, found, f)
    return [keys.file]


def _write(names: list[str], found: Any, f: IO[str]) -> None:
    if len(set(names)) < len(names):
        raise ReadError("The query gives two columns of one name.", "Name them apart by AS.")
    writer = csv.writer(f)
    writer.writerow(names)
    n = 0
    while rows := found.fetchmany(ROWS):
        n += len(rows)
        if n > most("chunked_rows"):
            raise ReadError(f"The query gives {above(n, 'chunked_rows')}.")
        writer.writerows([_cell(v) for v in row] for row in rows)


def _cell(v: Any) -> Any:
    """Return a value as a cell of CSV, none of its digits lost."""
    if v is None:
        return ""
    if isinstance(v, bool):
        return "yes" if v else "no"
    if isinstance(v, dt.datetime):
        return v.date().isoformat() if v.time() == dt.time() else v.isoformat(" ")
    if isinstance(v, dt.date):
        return v.isoformat()
    if isinstance(v, Decimal):
        return f"{v:f}"
    if isinstance(v, bytes | memoryview):
        raise ReadError("The query gives a column of bytes.", "Leave it out of the query.")
    return v
