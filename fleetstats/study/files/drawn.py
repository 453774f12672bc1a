"""Records that lie elsewhere: how a study names them, and where the copies of them stand.

A study never reaches out by being read. What a URL or a query gives is drawn when it is asked for,
into a folder of the study named after the URL or the query, and that copy is what is read from then
on: by every verb, by the page, and by whoever is handed a bundle.
"""

from __future__ import annotations

import hashlib
import re
from pathlib import Path, PurePosixPath
from urllib.parse import SplitResult, urlsplit

from fleetstats.core.doors.globs import find_files
from fleetstats.study.files.patterns import is_pattern
from fleetstats.study.record_settings import RecordKeys
from fleetstats.study.schema import show
from fleetstats.vocabulary.fold import fold

DRAWN = "drawn"
"""Folder of a study that holds the copies."""

ENVIRONMENT = "env:"
"""How the name of an environment variable that holds the address of a database begins."""

VARIABLE = re.compile(r"^[A-Za-z_][A-Za-z0-9_]*$")
SCHEME = re.compile(r"^[A-Za-z][A-Za-z0-9+.-]*://")
READS = ("select", "with", "values")
"""First words of a query that reads and changes nothing."""

CURE = "Credentials belong to the environment, never to a study file"


def is_url(name: str) -> bool:
    """Return whether the name of a record file is a URL."""
    return SCHEME.match(name) is not None


def lies_elsewhere(keys: RecordKeys) -> bool:
    """Return whether records are at a URL or in a database."""
    return is_url(keys.file) or bool(keys.sql or keys.database)


def drawn_folder(keys: RecordKeys) -> str:
    """Return the folder of the copies, within the study's: another one for another question."""
    asked = "\n".join((keys.file, keys.sql, keys.database))
    return f"{DRAWN}/{hashlib.sha256(asked.encode()).hexdigest()[:10]}"


def told_from(keys: RecordKeys) -> str:
    """Return where records lie, in words for a message; there is no secret in it."""
    return f"a query of {keys.database}" if keys.sql else keys.file


def check_elsewhere(keys: RecordKeys, where: str, problems: list[str]) -> None:
    """Add a sentence to `problems` for whatever is wrong with a URL or a query."""
    if keys.sql or keys.database:
        _check_query(keys, where, problems)
        return
    url = _split(keys.file)
    if url is None or "::" in keys.file:
        problems.append(f"{where}.file: is no usable URL.")
    elif url.username or url.password or "@" in url.netloc or url.query or url.fragment:
        # the value is not shown: a secret may be in it
        problems.append(
            f"{where}.file: the URL has a user, a password or what follows a '?'. {CURE}; give the "
            "URL without."
        )


def _split(text: str) -> SplitResult | None:
    try:
        return urlsplit(text)
    except ValueError:
        return None


def _check_query(keys: RecordKeys, where: str, problems: list[str]) -> None:
    for name, other in (("sql", keys.database), ("database", keys.sql)):
        if not other:
            problems.append(f"{where}: has 'sql' or 'database' alone; a query needs both.")
            return
        del name
    if is_url(keys.file) or PurePosixPath(keys.file).name != keys.file or is_pattern(keys.file):
        problems.append(
            f"{where}.file = {show(keys.file)}: beside 'sql' it is the name of the copy, such as "
            "returns.csv, without folders."
        )
    elif not fold(keys.file).endswith(".csv"):
        problems.append(
            f"{where}.file = {show(keys.file)}: what a query gives is kept as CSV; let the name "
            "end in .csv."
        )
    told = keys.sql.strip().rstrip(";")
    words = told.split(None, 1)
    if not words or fold(words[0]) not in READS or ";" in told:
        problems.append(
            f"{where}.sql: must be one query that reads, and begin with SELECT, WITH or VALUES."
        )
    if keys.database.startswith(ENVIRONMENT):
        name = keys.database.removeprefix(ENVIRONMENT)
        if not VARIABLE.match(name):
            problems.append(
                f"{where}.database = {show(keys.database)}: 'env:' is followed by the name of an "
                "environment variable."
            )
        return
    url = _split(keys.database)
    if not is_url(keys.database) or url is None:
        problems.append(
            f"{where}.database: must be an address such as sqlite:///fleet.db, or env:NAME for one "
            "that an environment variable holds."
        )
    elif url.password or ":" in url.netloc.rpartition("@")[0] or url.query or url.fragment:
        problems.append(
            f"{where}.database: the address has a password or what follows a '?'. {CURE}; write "
            "env:NAME and let that environment variable hold the address."
        )


def drawn_files(keys: RecordKeys, folder: Path, where: str, problems: list[str]) -> list[str]:
    """Return the copies of records that lie elsewhere, by name within the study's folder."""
    found, more = find_files(folder, f"{drawn_folder(keys)}/*")
    if more:
        problems.append(f"{where}: has {more}.")
    elif not found:
        problems.append(
            f"{where}: its records lie elsewhere and are not drawn yet. 'fleetstats study FOLDER "
            "--draw' draws them."
        )
    return found
