"""The record files that a study file names, also while it needs a correction."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from typing import Any

from fleetstats.records.guess.write import OPEN_SIGN

MAPS = ("columns", "endings", "kinds", "causes", "renews")


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedFile:
    """One ``[[records]]`` as it is written: texts and whole numbers as they stand, else nothing.

    `number` counts the files from 1; `own` holds the keys that are stated, maps apart.
    """

    number: int
    own: dict[str, Any]
    columns: dict[str, str] = field(default_factory=dict)
    endings: dict[str, str] = field(default_factory=dict)
    kinds: dict[str, str] = field(default_factory=dict)
    causes: dict[str, str] = field(default_factory=dict)
    renews: dict[str, str] = field(default_factory=dict)

    @property
    def file(self) -> str:
        """Return the file's name within the study."""
        return self.text("file")

    @property
    def sheet(self) -> str:
        """Return the sheet's name; blank where it is not stated."""
        return self.text("sheet")

    @property
    def shape(self) -> str:
        """Return what a row stands for; blank where that is open."""
        told = str(self.own.get("shape", "lives"))
        return "" if told == OPEN_SIGN else told

    @property
    def header_row(self) -> int:
        """Return the line of the column names; 0 where it is not stated."""
        told = self.own.get("header_row", 0)
        return told if isinstance(told, int) else 0

    @property
    def place(self) -> str:
        """Return the file with its sheet."""
        return f"{self.file} [{self.sheet}]" if self.sheet else self.file

    def text(self, name: str) -> str:
        """Return a key of the file that is a text."""
        told = self.own.get(name, "")
        return told if isinstance(told, str) else ""

    def map(self, name: str) -> dict[str, str]:
        """Return one of the file's maps."""
        return dict(getattr(self, name))


def raw_study(text: str | None) -> dict[str, Any]:
    """Return what a study file's text holds; nothing where it is missing or no TOML."""
    try:
        return tomllib.loads((text or "").removeprefix("\ufeff"))
    except (tomllib.TOMLDecodeError, RecursionError):
        return {}


def named_files(raw: dict[str, Any]) -> tuple[NamedFile, ...]:
    """Return the files that a study file names, in its order."""
    told = raw.get("records", [])
    if not isinstance(told, list):
        return ()
    return tuple(
        NamedFile(
            number=i,
            own={k: v for k, v in keys.items() if k not in MAPS},
            **{m: _texts(keys.get(m)) for m in MAPS},
        )
        for i, keys in enumerate(told, start=1)
        if isinstance(keys, dict) and isinstance(keys.get("file"), str)
    )


def _texts(told: Any) -> dict[str, str]:
    held = told if isinstance(told, dict) else {}
    return {k: v for k, v in held.items() if isinstance(v, str)}


def stated(raw: dict[str, Any], path: str) -> Any:
    """Return a setting as the study file states it, by ``table.key``; None where it does not."""
    table, _, key = path.partition(".")
    held = raw.get(table)
    return held.get(key) if isinstance(held, dict) else None
