"""The report and its results as JSON: strict, sorted, the same bytes for the same content."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

import numpy as np

from fleetstats.core.value import Value, members_of, plain
from fleetstats.document.document import Document
from fleetstats.document.parts import data_version

AT_ONCE = 1_000
"""Members of a long list that are turned into text together, so that few stand in memory."""

DEEPEST = 5
"""Levels of values and dictionaries that are opened one member after the other."""


def write_json_text(value: Any) -> str:
    """Return a value as strict JSON text with sorted keys and a last line end.

    NaN becomes null; infinities become the words that `core.value.plain` gives them.
    """
    return "".join((*_pieces(value, 0), "\n"))


def json_pieces(value: Any) -> Iterator[bytes]:
    """Yield `write_json_bytes` piece by piece, so that it need never stand in memory whole."""
    yield from (piece.encode() for piece in _pieces(value, 0))
    yield b"\n"


def write_json_bytes(value: Any) -> bytes:
    """Return `write_json_text` in UTF-8, in little more memory than the bytes themselves."""
    return b"".join([*(piece.encode() for piece in _pieces(value, 0)), b"\n"])


def _pieces(value: Any, depth: int) -> Iterator[str]:
    """Yield the text of a value that stands so many levels deep."""
    edge = "\n" + " " * depth
    if isinstance(value, Value) and type(value).to_dict is Value.to_dict:
        members = members_of(value)
    else:
        members = value.to_dict() if isinstance(value, Value) else value
    if isinstance(members, dict) and members and depth < DEEPEST:
        named = {str(k): v for k, v in members.items()}
        for i, key in enumerate(sorted(named)):
            yield f"{',' if i else '{'}{edge} {_spread(key, depth)}: "
            yield from _pieces(named[key], depth + 1)
        yield f"{edge}}}"
    elif _is_list(value) and len(value) > AT_ONCE:
        for start in range(0, len(value), AT_ONCE):
            some = _spread(plain(value[start : start + AT_ONCE]), depth + 1)
            yield ("," if start else "[") + some[1 : -len(edge) - 1]
        yield f"{edge}]"
    else:
        yield _spread(plain(value), depth + 1)


def _is_list(value: Any) -> bool:
    return isinstance(value, tuple | list) or (isinstance(value, np.ndarray) and value.ndim > 0)


def _spread(value: Any, level: int) -> str:
    """Return what `json.dumps` writes of a plain value with an indent of 1, its items at `level`.

    What holds no list and no dictionary is written by the fast encoder, which knows no indent, with
    line ends for separators; the other encoder took ten times as long.
    """
    if not isinstance(value, list | dict) or not value:
        return _flat(level)(value)
    gap = "\n" + " " * level
    deep = not _DEEP.isdisjoint(map(type, value.values() if isinstance(value, dict) else value))
    if not deep:
        text = _flat(level)(value)
        return f"{text[0]}{gap}{text[1:-1]}{gap[:-1]}{text[-1]}"
    if isinstance(value, list):
        items = [_spread(v, level + 1) for v in value]
        return f"[{gap}{f',{gap}'.join(items)}{gap[:-1]}]"
    items = [f"{_flat(level)(k)}: {_spread(v, level + 1)}" for k, v in sorted(value.items())]
    return f"{{{gap}{f',{gap}'.join(items)}{gap[:-1]}}}"


_DEEP = frozenset({list, dict})


@cache
def _flat(level: int) -> Callable[[Any], str]:
    apart = (",\n" + " " * level, ": ")
    return json.JSONEncoder(
        sort_keys=True, allow_nan=False, ensure_ascii=False, separators=apart
    ).encode


def document_json(document: Document) -> str:
    """Return the whole report as JSON text, with its notice and the version of its data."""
    from fleetstats.vocabulary.caution import STANDING_NOTICE

    content = plain(document)
    content["standing_notice"] = list(STANDING_NOTICE)
    content["data_version"] = data_version(document)
    return write_json_text(content)


def script_json(value: Any) -> str:
    """Return JSON that may stand inside a script element of a page: no way out of it."""
    text = json.dumps(plain(value), sort_keys=True, allow_nan=False, ensure_ascii=True,
                      separators=(",", ":"))  # fmt: skip
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
