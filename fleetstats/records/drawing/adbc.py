"""A query through the drivers of ADBC, Arrow's interface to databases: the one door to them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from fleetstats.records.drawing.address import SQLITE, no_driver, sqlite_file, unknown_kind

ADBC = "+adbc"
"""How the kind of an address ends that asks for these drivers, as in ``postgresql+adbc://``."""

DRIVERS = {SQLITE: "adbc_driver_sqlite.dbapi", "postgresql": "adbc_driver_postgresql.dbapi"}


def asks_for_adbc(address: str) -> bool:
    """Return whether an address asks for these drivers."""
    return address.partition("://")[0].endswith(ADBC)


@contextmanager
def ask_adbc(address: str, sql: str, folder: Path) -> Iterator[tuple[list[str], Any]]:
    """Ask a database; parameters, what it gives and errors as `ask_alchemy`."""
    kind, _, rest = address.partition("://")
    backend = kind.removesuffix(ADBC)
    if backend not in DRIVERS:
        raise unknown_kind()
    try:
        connect = import_module(DRIVERS[backend]).connect
    except ImportError as error:
        raise no_driver(error.name) from None
    if backend == SQLITE:
        uri = f"{sqlite_file(urlsplit(address).path[1:], folder)}?mode=ro"
    else:
        uri = f"{backend}://{rest}"
    with connect(uri) as connection, connection.cursor() as cursor:
        if backend != SQLITE:
            cursor.execute("set transaction read only")
        cursor.execute(sql)
        yield [str(d[0]) for d in cursor.description], cursor
        connection.rollback()
