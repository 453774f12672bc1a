"""JSON in which no key stands twice: of two, readers take one, and not all the same."""

from __future__ import annotations

import json
from typing import Any

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
        If the text is no JSON, or nests deeper than can be read.
    """
    doubled: list[str] = []

    def pairs(items: list[tuple[str, Any]]) -> dict[str, Any]:
        out: dict[str, Any] = {}
        for k, v in items:
            if k in out:
                doubled.append(k)
            out[k] = v
        return out

    try:
        content = json.loads(text, object_pairs_hook=pairs)
    except RecursionError:
        raise ValueError("it nests too deep") from None
    return Strict(content=content, doubled=tuple(dict.fromkeys(doubled)))
