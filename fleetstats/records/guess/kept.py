"""Guesses of a study file that somebody has looked at: their remarks say so from then on."""

from __future__ import annotations

import json
import re
import tomllib
from typing import Any, Final

from fleetstats.core.errors import SettingError
from fleetstats.records.guess.write import OPEN_MARK

KEPT: Final = "kept"
"""What stands in a remark in place of how sure a guess was, once a person kept it."""

_OPEN = re.compile(rf'# (?P<key>"(?:[^"\\]|\\.)*"|[a-z_-]+) = "…"    {OPEN_MARK}')
_MARK = re.compile(r"    # (?P<sure>sure|likely): ")


def count_guesses(text: str, number: int) -> int:
    """Return how many guesses of a record file, files counted from 1, nobody has kept yet."""
    return len(_marks(text.split("\n"), number))


def keep_guesses(text: str, number: int) -> str:
    """Return a study file's text in which the guesses on a record file are marked as kept.

    What the file says does not change; only the remarks behind its values do.

    Raises
    ------
    SettingError
        If the file is written so that remarks cannot be told from values.
    """
    lines = text.split("\n")
    for i, (first, last) in _marks(lines, number).items():
        lines[i] = f"{lines[i][:first]}{KEPT}{lines[i][last:]}"
    out = "\n".join(lines)
    if _read(out) != _read(text):
        raise SettingError(
            "The remarks of the study file cannot be told from its values.",
            "Change them in study.toml with an editor of texts.",
        )
    return out


def drop_open(text: str, number: int, table: str, key: str) -> str:
    """Return a study file's text without the remark that a thing is open, once it is answered.

    Parameters
    ----------
    text : str
        The study file.
    number : int
        The record file that the thing belongs to, counted from 1; 0 where it is the study's.
    table, key : str
        Its table, ``"file"`` for a key of the record file itself, and its key.
    """
    lines = text.split("\n")
    kept, n, here = [], 0, ""
    for line in lines:
        head = line.strip()
        if head.startswith("["):
            n += head.startswith("[[records]]")
            here = head.strip("[]")
        mine = here in (table, f"records.{table}", "records" if table == "file" else table)
        own = not number or table == "treat" or n == number
        asked = _OPEN.match(line) if mine and own else None
        if asked is None or _key_of(asked["key"]) != key:
            kept.append(line)
    out = "\n".join(kept)
    return out if _read(out) == _read(text) else text


def _key_of(shown: str) -> str:
    return str(json.loads(shown)) if shown.startswith('"') else shown


def _read(text: str) -> dict[str, Any]:
    return tomllib.loads(text.removeprefix("\ufeff"))


def _marks(lines: list[str], number: int) -> dict[int, tuple[int, int]]:
    """Return the lines of a record file that hold a guess, each with where its sureness stands."""
    n, inside = 0, False
    out: dict[int, tuple[int, int]] = {}
    for i, line in enumerate(lines):
        head = line.strip()
        if head.startswith("["):
            n += head.startswith("[[records]]")
            inside = n == number and head.startswith(("[[records]]", "[records."))
        elif inside and not head.startswith("#"):
            at = next((m for m in _MARK.finditer(line) if _whole(line[: m.start()])), None)
            if at is not None:
                out[i] = at.span("sure")
    return out


def _whole(statement: str) -> bool:
    """Return whether the part of a line before a mark says something by itself."""
    try:
        return bool(tomllib.loads(statement))
    except tomllib.TOMLDecodeError:
        return False
