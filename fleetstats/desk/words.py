"""Every sentence of the page, by room: a file of words each, so that a translation is a file."""

from __future__ import annotations

import functools
import tomllib
from importlib import resources
from typing import Any


@functools.cache
def words_of(room: str) -> dict[str, Any]:
    """Return all words of a room."""
    text = (resources.files("fleetstats.desk") / "words" / f"{room}.toml").read_text("utf-8")
    return tomllib.loads(text)


def words(room: str, name: str, /, **told: object) -> str:
    """Return one sentence of a room, with what it names filled in."""
    sentence: str = words_of(room)[name]
    return sentence.format(**told)
