"""JSON in which no key stands twice: of two, readers take one, and not all the same."""

from __future__ import annotations

from typing import Any

from fleetstats.core.doors.json_text import load_json
from fleetstats.core.limits import above
from fleetstats.core.value import Value, value


@value
class Strict(Value):
    """What a JSON text holds, and the keys that stand twice in one of its objects."""

    content: Any
    doubled: tuple[str, ...]


def read_strict(text: bytes) -> Strict:
    """Read JSON and name its doubled keys.

    Raises
    ------
    ValueError
        If the text is no JSON, or passes the limits of size, depth or digits.
    """
    doubled: list[str] = []

    def pairs(items: list[tuple[str, Any]]) -> dict[str, Any]:
        out: dict[str, Any] = {}
        for k, v in items:
            if k in out:
                doubled.append(k)
            out[k] = v
        return out

    if too_long := above(len(text), "json_bytes"):
        raise ValueError(f"it has {too_long}")
    content = load_json(text, pairs=pairs)
    return Strict(content=content, doubled=tuple(dict.fromkeys(doubled)))
