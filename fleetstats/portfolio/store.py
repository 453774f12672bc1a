"""Finished families kept on disk, so that a portfolio goes on where it stopped.

One JSON file a family, written whole or not at all, with the versions of what computed it and the
digest of both. A file that cannot be read back to the very row it holds, that was edited, or that
another version made is ignored, and its family is done again.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import math
import types
import typing
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any

from fleetstats.core.doors.json_text import load_json
from fleetstats.core.doors.plain_files import read_plain
from fleetstats.core.errors import FleetstatsError, ReportError
from fleetstats.core.files import write_whole
from fleetstats.core.program import PROGRAM, program_digest
from fleetstats.core.provenance import installed_versions
from fleetstats.core.value import Value
from fleetstats.portfolio.family import DONE, FamilyRow
from fleetstats.report.json import write_json_text

FOLDER = "kept"


def keep_row(folder: Path, row: FamilyRow) -> None:
    """Keep a finished family in a portfolio's folder.

    A family that failed over the machine or the program is not kept: another run may do better.
    """
    if row.state == "failed" or not row.digest:
        return
    place = folder / FOLDER
    try:
        place.mkdir(parents=True, exist_ok=True)
        write_whole(place / f"{row.slug}.json", _sealed(row))
    except OSError as e:
        raise ReportError(
            f"'{row.slug}.json' cannot be kept in '{place}' ({e.strerror}).",
            "Name a folder that you may write to.",
        ) from None


def read_kept(folder: Path) -> dict[str, FamilyRow]:
    """Return the rows kept in a portfolio's folder, by digest."""
    out = {}
    for row in _rows(folder / FOLDER):
        out[row.digest] = row
    return out


def _versions() -> dict[str, str]:
    return {**installed_versions(), PROGRAM: program_digest()}


def _seal(row: dict[str, Any], versions: dict[str, str]) -> str:
    """Return the SHA-256 over a row and the versions that made it."""
    text = json.dumps({"row": row, "versions": versions}, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()


def _sealed(row: FamilyRow) -> str:
    """Return the text of a kept file."""
    held, versions = json.loads(write_json_text(row)), _versions()
    file = {"row": held, "versions": versions, "sha256": _seal(held, versions)}
    return json.dumps(file, indent=2, ensure_ascii=False) + "\n"


def _rows(place: Path) -> Iterator[FamilyRow]:
    for path in sorted(place.glob("*.json")) if place.is_dir() else []:
        try:
            file = load_json(read_plain(path, "kept_bytes"))
            data, versions = file["row"], file["versions"]
            if versions != _versions() or file["sha256"] != _seal(data, versions):
                continue
            row = revive(FamilyRow, data)
        except (OSError, ValueError, TypeError, KeyError, RecursionError, FleetstatsError):
            continue
        if row.to_dict() == data and row.slug == path.stem and row.state != "failed":
            yield row


V = typing.TypeVar("V", bound=Value)


def revive(cls: type[V], data: dict[str, Any]) -> V:
    """Return the value that `to_dict` wrote, for values of plain fields, dates and such values.

    Raises
    ------
    ValueError, TypeError, KeyError
        If the data are not those of such a value.
    """
    hints = typing.get_type_hints(cls)
    apart = (*cls._carried, *cls._not_in_dict)
    told = [f.name for f in fields(cls) if f.name not in apart]  # type: ignore[arg-type]
    return cls(**{name: _revived(hints[name], data[name]) for name in told})


def _revived(hint: Any, value: Any) -> Any:
    if value is None:
        return None
    if isinstance(hint, types.UnionType):
        hint = next(a for a in typing.get_args(hint) if a is not type(None))
    if isinstance(hint, type) and issubclass(hint, Value):
        return revive(hint, value)
    if typing.get_origin(hint) is tuple:
        if not isinstance(value, list):
            raise TypeError(f"{value!r} is no {hint}")
        return tuple(_revived(typing.get_args(hint)[0], v) for v in value)
    if hint is dt.date:
        return dt.date.fromisoformat(value)
    if hint is float:
        return _number(value)
    if not isinstance(value, hint):
        raise TypeError(f"{value!r} is no {hint}")
    return value


def _number(value: Any) -> float:
    infinite = {"infinity": math.inf, "-infinity": -math.inf}
    if isinstance(value, str):
        return infinite[value]
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError(f"{value!r} is no number")
    return float(value)


__all__ = ["DONE", "FOLDER", "keep_row", "read_kept", "revive"]
