"""JSON from a stranger: UTF-8, within limits of depth and digits, finite numbers, whole letters."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from typing import Any

from fleetstats.core.limits import above, most

Pairs = Callable[[list[tuple[str, Any]]], Any]


def load_json(data: bytes, *, pairs: Pairs | None = None) -> Any:
    """Read JSON strictly.

    Parameters
    ----------
    data : bytes
        The text, in UTF-8 without a byte-order mark.
    pairs : callable, optional
        What makes an object from its keys and values; a dict where it is left out.

    Raises
    ------
    ValueError
        If it is no JSON, or passes a limit: what was found and what would be right.
    """
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise ValueError(f"it is not UTF-8 at byte {error.start:,}") from None
    too_deep = above(_depth(text), "depth")
    if too_deep:
        raise ValueError(f"it nests {too_deep}")
    try:
        content = json.loads(
            text, object_pairs_hook=pairs,
            parse_constant=_no_number, parse_int=_whole, parse_float=_finite,
        )  # fmt: skip
    except RecursionError:  # pragma: no cover - the depth was counted
        raise ValueError("it nests too deep") from None
    if "\\u" in text:  # only so can half of a letter be spelled
        try:
            json.dumps(content, ensure_ascii=False).encode()
        except UnicodeEncodeError:
            raise ValueError("it spells half of a letter, which no text can hold") from None
    return content


def _depth(text: str) -> int:
    """Return how deep brackets outside texts nest; 0 where too few open to pass the limit."""
    if text.count("[") + text.count("{") <= most("depth"):
        return 0
    deepest = depth = 0
    inside = escaped = False
    for c in _signs(text):
        if inside:
            if escaped:
                escaped = False
            elif c == "\\":
                escaped = True
            elif c == '"':
                inside = False
        elif c == '"':
            inside = True
        elif c in "[{":
            depth += 1
            deepest = max(deepest, depth)
        elif c in "]}":
            depth -= 1
    return deepest


def _signs(text: str) -> str:
    r"""Return the letters that matter for nesting; of an escape, its mark and what it escapes."""
    return re.sub(r'\\(.)|[^\\"\[\]{}]+', lambda m: "\\" + m[1] if m[1] else "", text, flags=re.S)


def _no_number(word: str) -> None:
    raise ValueError(f"{word} is no number of JSON")


def _whole(digits: str) -> int:
    too_long = above(len(digits.lstrip("-")), "digits")
    if too_long:
        raise ValueError(f"a number has {too_long}")
    return int(digits)


def _finite(digits: str) -> float:
    number = float(digits)
    if not math.isfinite(number):
        raise ValueError(f"the number {digits[:40]} is larger than any that can be held")
    return number
