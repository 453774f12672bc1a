"""Rows of a query, written as CSV: the one door to the library that speaks to databases."""

from __future__ import annotations

import csv
import datetime as dt
import os
from decimal import Decimal
from pathlib import Path
from typing import IO, Any

from fleetstats.core.errors import ReadError, SettingError
from fleetstats.core.limits import above, most
from fleetstats.study.files.drawn import ENVIRONMENT
from fleetstats.study.record_settings import RecordKeys

ROWS = 10_000
"""Rows taken at a time."""

SQLITE = "sqlite"


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
    engine = _engine(keys.database, folder)
    try:
        with (
            engine.connect() as connection,
            (into / keys.file).open("w", newline="", encoding="utf-8") as f,
        ):
            _write(connection, keys.sql, f)
            connection.rollback()
    finally:
        engine.dispose()
    return [keys.file]


def _write(connection: Any, sql: str, f: IO[str]) -> None:
    from sqlalchemy import text

    found = connection.execution_options(stream_results=True).execute(text(sql))
    names = list(map(str, found.keys()))
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


def _engine(database: str, folder: Path) -> Any:
    try:
        from sqlalchemy import create_engine
        from sqlalchemy.engine import make_url
        from sqlalchemy.exc import ArgumentError, NoSuchModuleError
    except ImportError:
        raise SettingError(
            "The records are in a database, and the library that speaks to databases is not "
            "installed.",
            "Install fleetstats[remote], or export the rows as CSV.",
        ) from None
    address = database
    if database.startswith(ENVIRONMENT):
        name = database.removeprefix(ENVIRONMENT)
        address = os.environ.get(name, "")
        if not address:
            raise SettingError(
                f"The environment variable {name}, which is to hold the database's address, is not "
                "set.",
                "Set it where this runs.",
            )
    try:
        url = make_url(address)
        if url.get_backend_name() == SQLITE:
            url = url.set(database=f"file:{_sqlite_path(url.database, folder)}",
                          query={"mode": "ro", "uri": "true"})  # fmt: skip
        return create_engine(url)
    except (ArgumentError, NoSuchModuleError):
        raise SettingError("The database's address is of no kind that is known.") from None
    except ImportError as error:
        raise SettingError(
            f"The library that speaks to this kind of database is not installed ({error.name}).",
            "Install it, or export the rows as CSV.",
        ) from None


def _sqlite_path(name: str | None, folder: Path) -> Path:
    path = (folder / (name or "")).resolve()
    if not path.is_file():
        raise ReadError(
            "There is no such database file.", "A path is taken from the study's folder."
        )
    return path
