"""A query through SQLAlchemy: the one door to it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from fleetstats.core.errors import SettingError
from fleetstats.records.drawing.address import SQLITE, no_driver, sqlite_file, unknown_kind


@contextmanager
def ask_alchemy(address: str, sql: str, folder: Path) -> Iterator[tuple[list[str], Any]]:
    """Ask a database; give the columns' names, and what `fetchmany` takes the rows from.

    The transaction reads only, where the database knows such, and is rolled back.

    Parameters
    ----------
    address : str
        As SQLAlchemy has it.
    sql : str
        The query.
    folder : Path
        Where the path of an SQLite file begins.

    Raises
    ------
    SettingError
        If SQLAlchemy, or the library for this kind of database, is not installed.
    ReadError
        If there is no such database file.
    """
    engine = _engine(address, folder)
    try:
        from sqlalchemy import text

        with engine.connect() as connection:
            asking = connection.execution_options(stream_results=True, postgresql_readonly=True)
            found = asking.execute(text(sql))
            yield list(map(str, found.keys())), found
            connection.rollback()
    finally:
        engine.dispose()


def _engine(address: str, folder: Path) -> Any:
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
    try:
        url = make_url(address)
        if url.get_backend_name() == SQLITE:
            url = url.set(database=sqlite_file(url.database, folder),
                          query={"mode": "ro", "uri": "true"})  # fmt: skip
        return create_engine(url)
    except (ArgumentError, NoSuchModuleError):
        raise unknown_kind() from None
    except ImportError as error:
        raise no_driver(error.name) from None
