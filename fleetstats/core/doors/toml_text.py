"""TOML from a stranger: within limits of nesting, of dots in a line, of digits in a number."""

from __future__ import annotations

import tomllib
from typing import Any

from fleetstats.core.limits import LIMITS, above


def load_toml(text: str) -> dict[str, Any]:
    """Read TOML within limits.

    Raises
    ------
    tomllib.TOMLDecodeError
        If it is no TOML; it is a `ValueError` too.
    ValueError
        If it passes a limit: what was found and what the limit is, as a clause.
    """
    for i, line in enumerate(text.split("\n"), start=1):
        too_many = "" if line.lstrip().startswith("#") else above(line.count("."), "study_dots")
        if too_many:
            raise ValueError(f"line {i} has {too_many}")
    try:
        told = tomllib.loads(text)
    except RecursionError:
        raise ValueError("its brackets nest deeper than can be read") from None
    except tomllib.TOMLDecodeError:
        raise
    except ValueError:  # the interpreter's own limit on the digits of a whole number
        raise ValueError(
            f"a whole number has far more digits than the limit, {LIMITS['digits']}"
        ) from None
    _check(told)
    return told


def _check(told: dict[str, Any]) -> None:
    left: list[tuple[Any, int]] = [(told, 1)]
    while left:
        item, depth = left.pop()
        if too_deep := above(depth, "depth"):
            raise ValueError(f"its tables and lists nest {too_deep}")
        if isinstance(item, dict | list):
            inner = item.values() if isinstance(item, dict) else item
            left.extend((x, depth + 1) for x in inner)
        elif isinstance(item, int) and (too_long := above(len(str(abs(item))), "digits")):
            raise ValueError(f"a whole number has {too_long}")
