"""The report and its results as JSON: strict, sorted, the same bytes for the same content."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from functools import cache
from json.encoder import encode_basestring
from math import isfinite
from typing import Any

import numpy as np

from fleetstats.core.value import Value, members_of, names_told, plain, tells_fields
from fleetstats.document.document import Document
from fleetstats.document.parts import data_version

AT_ONCE = 1_000
"""Members of a long list that are turned into text together, so that few stand in memory."""

DEEPEST = 5
"""Levels of values, lists of them and dictionaries that are opened one member after the other."""


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
    members = members_of(value) if isinstance(value, Value) else value
    if isinstance(members, dict) and members and depth < DEEPEST:
        named = {str(k): v for k, v in members.items()}
        for i, key in enumerate(sorted(named)):
            yield f"{',' if i else '{'}{edge} {encode_basestring(key)}: "
            yield from _pieces(named[key], depth + 1)
        yield f"{edge}}}"
    elif _is_list(value) and len(value) > AT_ONCE:
        for start in range(0, len(value), AT_ONCE):
            some = _text(value[start : start + AT_ONCE], depth + 1)
            yield ("," if start else "[") + some[1 : -len(edge) - 1]
        yield f"{edge}]"
    elif depth < DEEPEST and _holds_values(value):
        for i, item in enumerate(value):
            yield f"{',' if i else '['}{edge} "
            yield from _pieces(item, depth + 1)
        yield f"{edge}]"
    else:
        yield _text(value, depth + 1)


def _holds_values(value: Any) -> bool:
    """Return whether a list holds values, of which each may be long: a report's sections, say."""
    return isinstance(value, tuple | list) and any(isinstance(v, Value | dict) for v in value)


def _is_list(value: Any) -> bool:
    return isinstance(value, tuple | list) or (isinstance(value, np.ndarray) and value.ndim > 0)


def _text(value: Any, level: int) -> str:
    """Return what `json.dumps` writes of a value's plain form with an indent of 1, from `level` on.

    It is written straight from the value: to make the plain form of every small value first, and
    to hand each of its numbers to an encoder, took three times as long.
    """
    kind: Any = type(value)
    if kind is str:
        return encode_basestring(value)
    if kind is float and isfinite(value):
        return float.__repr__(value)
    if value is None:
        return "null"
    if kind is int:
        return int.__repr__(value)
    if kind is bool or kind is float:
        return json.dumps(plain(value))
    if kind is list or kind is tuple:
        return _items(value, level)
    if kind is dict:
        return _members({str(k): v for k, v in value.items()}, level)
    if (heads := _heads(kind)) is not None:
        return _braced([head if name is None else head + _text(getattr(value, name), level + 1)
                        for head, name in heads], level)  # fmt: skip
    if isinstance(value, Value):
        return _members(members_of(value), level)
    return _text(plain(value), level)


_PLAIN = frozenset({str, int, bool, type(None)})


def _items(items: list[Any] | tuple[Any, ...], level: int) -> str:
    """Return the text of a list; of numbers and words, of which most are, by the fast encoder.

    That one knows no indent, so line ends are its separators.
    """
    gap, kinds = "\n" + " " * level, set(map(type, items))
    if not kinds:
        return "[]"
    if kinds <= _PLAIN or (kinds == {float} and all(map(isfinite, items))):
        text = _flat(level)(items)
        return f"[{gap}{text[1:-1]}{gap[:-1]}]"
    return f"[{gap}{f',{gap}'.join([_text(v, level + 1) for v in items])}{gap[:-1]}]"


def _members(named: dict[str, Any], level: int) -> str:
    return _braced([f"{encode_basestring(k)}: {_text(named[k], level + 1)}"
                    for k in sorted(named)], level)  # fmt: skip


def _braced(members: list[str], level: int) -> str:
    gap = "\n" + " " * level
    return f"{{{gap}{f',{gap}'.join(members)}{gap[:-1]}}}" if members else "{}"


@cache
def _heads(kind: Any) -> tuple[tuple[str, str | None], ...] | None:
    """Return how the members of a kind of value begin, in their order, with the names of fields.

    None for a kind that says itself what it holds. What is the same for each has no field.
    """
    heads: dict[str, tuple[str, str | None]] = {}
    if issubclass(kind, Value):
        if not tells_fields(kind):
            return None
        schema, names = names_told(kind)
        heads["schema"] = f'"schema": {encode_basestring(schema)}', None
    elif is_dataclass(kind):
        names = tuple(f.name for f in fields(kind))
    else:
        return None
    heads |= {name: (f"{encode_basestring(name)}: ", name) for name in names}
    return tuple(heads[name] for name in sorted(heads))


@cache
def _flat(level: int) -> Callable[[Any], str]:
    apart = (",\n" + " " * level, ": ")
    return json.JSONEncoder(
        sort_keys=True, allow_nan=False, ensure_ascii=False, separators=apart
    ).encode


def document_json(document: Document) -> str:
    """Return the whole report as JSON text, with its notice and the version of its data."""
    return b"".join(document_pieces(document)).decode()


def document_pieces(document: Document) -> Iterator[bytes]:
    """Yield `document_json` piece by piece, in UTF-8."""
    from fleetstats.vocabulary.caution import STANDING_NOTICE

    content = members_of(document)
    told = {"standing_notice": list(STANDING_NOTICE), "data_version": data_version(document)}
    return json_pieces(content | told)


def script_json(value: Any) -> str:
    """Return JSON that may stand inside a script element of a page: no way out of it."""
    text = json.dumps(plain(value), sort_keys=True, allow_nan=False, ensure_ascii=True,
                      separators=(",", ":"))  # fmt: skip
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
