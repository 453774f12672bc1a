"""One column of a shape of records."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A column that a shape knows: our name, other words for it, what it holds, an example."""

    name: str
    doc: str
    words: tuple[str, ...] = ()
    unit: str = ""
    required: bool = False
    example: str = ""
