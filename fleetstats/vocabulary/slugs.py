"""Names for files, folders and places in a page, made from words."""

from __future__ import annotations

import re
from pathlib import PurePath


def slug(text: str, longest: int | None = None) -> str:
    """Return a text as small letters and digits with hyphens between; empty where none is left."""
    return "-".join(re.findall(r"[a-z0-9]+", text.casefold()))[:longest].strip("-")


def suffix_of(path: str | PurePath) -> str:
    """Return the ending of a file's name in small letters, such as ``".csv"``."""
    return PurePath(path).suffix.lower()
