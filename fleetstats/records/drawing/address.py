"""The address of a database: from the study file, or from an environment variable that it names."""

from __future__ import annotations

import os
from pathlib import Path
from urllib.parse import quote

from fleetstats.core.errors import ReadError, SettingError
from fleetstats.study.files.drawn import ENVIRONMENT

SQLITE = "sqlite"


def address_of(database: str) -> str:
    """Return an address as it stands, or what the environment variable that it names holds.

    Raises
    ------
    SettingError
        If the environment lacks the variable.
    """
    if not database.startswith(ENVIRONMENT):
        return database
    name = database.removeprefix(ENVIRONMENT)
    address = os.environ.get(name, "")
    if not address:
        raise SettingError(
            f"The environment variable {name}, which is to hold the database's address, is not "
            "set.",
            "Set it where this runs.",
        )
    return address


def unknown_kind() -> SettingError:
    """Return the error of an address that no library knows; it does not show the address."""
    return SettingError("The database's address is of no kind that is known.")


def no_driver(library: str | None) -> SettingError:
    """Return the error of a database whose own library is missing."""
    name = (library or "").partition(".")[0]
    return SettingError(
        f"The library that speaks to this kind of database is not installed ({name}).",
        "Install it, or export the rows as CSV.",
    )


def sqlite_file(name: str | None, folder: Path) -> str:
    """Return a database file of a study as SQLite's own kind of address, to be read only.

    Raises
    ------
    ReadError
        If it is not there.
    """
    path = (folder / (name or "")).resolve()
    if not path.is_file():
        raise ReadError(
            "There is no such database file.", "A path is taken from the study's folder."
        )
    return f"file:{quote(path.as_posix())}"
