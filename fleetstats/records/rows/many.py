"""Very many frozen values of one kind made at once, field by field instead of one by one.

A frozen value is made by one call for each of its fields; where a file has rows by the hundred
thousand, that is most of the reading. Here each field is set in all of them by one loop.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, Field, fields
from itertools import repeat
from typing import Any, TypeVar

T = TypeVar("T")


def make_many(made_of: type[T], n: int, told: Mapping[str, Iterable[Any]]) -> list[T]:
    """Return n new values, each as its class makes it of the same fields.

    Parameters
    ----------
    made_of : type
        A class of `core.value.value` whose fields are no arrays and that settles nothing when it
        is made.
    n : int
        How many.
    told : mapping
        By field: at least n values, or `repeat` of one. A field left out has its default.

    Raises
    ------
    TypeError
        If the class settles its fields, a field has neither values nor a default, or there is no
        such field.
    """
    known: dict[str, Field[Any]] = {f.name: f for f in fields(made_of)}  # type: ignore[arg-type]
    if hasattr(made_of, "__post_init__"):
        raise TypeError(f"{made_of.__name__} settles its own fields, so that each is made alone.")
    if strange := sorted(set(told) - set(known)):
        raise TypeError(f"{made_of.__name__} has no field {', '.join(strange)}.")
    out: list[T] = list(map(made_of.__new__, repeat(made_of, n)))
    for name, f in known.items():
        place = getattr(made_of, name)
        deque(map(place.__set__, out, _values(f, n, told)), maxlen=0)
    return out


def _values(f: Field[Any], n: int, told: Mapping[str, Iterable[Any]]) -> Iterable[Any]:
    """Return the values of one field."""
    if f.name in told:
        values = told[f.name]
        if isinstance(values, list) and len(values) != n:
            raise TypeError(f"{len(values)} values of {f.name} for {n}.")
        return values
    if f.default_factory is not MISSING:
        return [f.default_factory() for _ in range(n)]
    if f.default is MISSING:
        raise TypeError(f"No values of {f.name}.")
    return repeat(f.default)
