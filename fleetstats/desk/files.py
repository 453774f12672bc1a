"""Files of the study's folder that the page may write or give: names checked, no way out."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from fleetstats.core.errors import DataError
from fleetstats.core.files import write_whole
from fleetstats.desk.words import words
from fleetstats.tables.open_table import PARQUETS, TEXTS, WORKBOOKS
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.slugs import suffix_of

KINDS = (*TEXTS, *WORKBOOKS, *PARQUETS)
LONGEST_NAME = 120
MOST_TRIES = 99
_RESERVED = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?")
"""Names that one family of systems keeps for its devices."""
_FORBIDDEN = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]')


def safe_name(told: str) -> str:
    """Return the name under which a dropped file is kept.

    Raises
    ------
    DataError
        If it is no plain name of a kind of file that is read.
    """
    name = told.replace("\\", "/").rpartition("/")[2].strip()
    plain = fold(name)
    if (
        not name
        or len(name) > LONGEST_NAME
        or name.startswith((".", "~", "-"))
        or name.endswith((".", " "))
        or _FORBIDDEN.search(name)
        or not name.isprintable()
        or _RESERVED.fullmatch(plain)
    ):
        raise DataError(words("records", "name_refused", name=told[:80]))
    if suffix_of(name) not in KINDS:
        raise DataError(words("records", "kind_refused", name=name, kinds=", ".join(KINDS)))
    return name


def keep_file(folder: Path, told: str, data: bytes) -> tuple[str, bool]:
    """Write a dropped file into the folder; one that is there is never changed.

    Returns
    -------
    tuple of (str, bool)
        The name under which it lies there, and whether it is new. A file of the same name and the
        same bytes is that file; one with other bytes gets a number.

    Raises
    ------
    DataError
        If the name is refused, or too many files share it.
    OSError
        If the folder cannot be written to.
    """
    name = safe_name(told)
    digest = hashlib.sha256(data).digest()
    stem, suffix = name[: -len(suffix_of(name))], name[-len(suffix_of(name)) :]
    for i in range(1, MOST_TRIES):
        here = name if i == 1 else f"{stem} ({i}){suffix}"
        path = folder / here
        if path.is_symlink() or (path.exists() and not path.is_file()):
            continue
        if path.exists():
            if hashlib.sha256(path.read_bytes()).digest() == digest:
                return here, False
            continue
        try:
            write_whole(path, data, replace=False)
        except FileExistsError:
            continue
        return here, True
    raise DataError(words("records", "name_taken", name=name))


def inside(folder: Path, *parts: str) -> Path | None:
    """Return a file of the folder, links followed; None where it is none or lies outside."""
    root = folder.resolve()
    try:
        real = root.joinpath(*parts).resolve(strict=True)
    except (OSError, ValueError, RuntimeError):
        return None
    return real if real.is_file() and real.is_relative_to(root) else None
