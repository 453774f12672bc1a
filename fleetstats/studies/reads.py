"""Which settings a computation reads: noted as it runs, so that nobody has to remember them.

A computation is given settings that tell a note of every key that is asked of them. They are equal
to the plain ones and answer alike; a copy made with other values goes on telling, and neither the
copying nor a comparison counts as reading.
"""

from __future__ import annotations

import dataclasses
import sys
from dataclasses import fields
from types import FrameType
from typing import Any

from fleetstats.study.settings import Settings

_COPY = dataclasses.replace.__code__
"""The code that copies a frozen value: it asks for every field and uses none."""


class Reads:
    """The keys that were read, as ``table.key``."""

    def __init__(self) -> None:
        self._keys: set[str] = set()

    def add(self, key: str) -> None:
        """Note that a key was read."""
        self._keys.add(key)

    @property
    def keys(self) -> tuple[str, ...]:
        """Return the keys read so far, in alphabetical order."""
        return tuple(sorted(self._keys))


def telling(settings: Settings, reads: Reads) -> Settings:
    """Return equal settings that note in `reads` which of their keys are read.

    Parameters
    ----------
    settings : Settings
        As the study has them; themselves telling or not.
    reads : Reads
        Where each key read is noted.

    Examples
    --------
    >>> import fleetstats as fs
    >>> from fleetstats.studies.reads import Reads, telling
    >>> reads = Reads()
    >>> told = telling(fs.read_study("datasets/quiet-fleet").settings, reads)
    >>> told.study.confidence, reads.keys
    (0.9, ('study.confidence',))
    """
    tables = {f.name: getattr(settings, f.name) for f in fields(Settings)}
    return Settings(**{name: _told(table, name, reads) for name, table in tables.items()})


def reads_of(settings: Settings) -> tuple[str, ...]:
    """Return the keys that telling settings had read from them; nothing from plain ones."""
    reads = getattr(type(settings.study), "_reads", None)
    return reads.keys if isinstance(reads, Reads) else ()


def is_copying(caller: FrameType) -> bool:
    """Return whether a value is asked by the code that copies it, which uses nothing of it."""
    return caller.f_code is _COPY


def _told(table: Any, name: str, reads: Reads) -> Any:
    """Return an equal table of keys whose class notes what is read from it."""
    plain = getattr(type(table), "_plain", type(table))
    keys = frozenset(f.name for f in fields(plain))
    fresh = set(keys)  # not noted yet: what is asked for each of a million rows is noted once

    def read(self: Any, key: str) -> Any:
        if key in fresh and not is_copying(sys._getframe(1)):
            reads.add(f"{name}.{key}")
            fresh.discard(key)
        return object.__getattribute__(self, key)

    def same(self: Any, other: object) -> bool:
        theirs = getattr(type(other), "_plain", type(other))
        return theirs is plain and all(
            object.__getattribute__(self, k) == object.__getattribute__(other, k) for k in keys
        )

    def packed(self: Any) -> Any:
        # What goes to another process cannot tell: all of it may be read there.
        for key in keys:
            reads.add(f"{name}.{key}")
        return _plain_table, (plain, {k: object.__getattribute__(self, k) for k in keys})

    told = type(
        plain.__name__,
        (plain,),
        {"__slots__": (), "__getattribute__": read, "__eq__": same, "__hash__": plain.__hash__,
         "__reduce__": packed, "_plain": plain, "_reads": reads},
    )  # fmt: skip
    return told(**{k: object.__getattribute__(table, k) for k in keys})


def _plain_table(kind: type, values: dict[str, Any]) -> Any:
    """Return a plain table of keys, as another process reads it."""
    return kind(**values)
