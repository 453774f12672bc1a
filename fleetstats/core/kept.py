"""Work done once for a value and kept with it.

A value never changes, so what follows from it alone may be worked out at the first asking and
handed out again. It lives and dies with the value: nothing is global, and a copy, a pickle, a
comparison or a written result knows nothing of it.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar

from fleetstats.core.value import Value

T = TypeVar("T")

_PLACE = "_kept"


class Same:
    """A part of a key that is the very object given, which it keeps alive."""

    __slots__ = ("value",)

    def __init__(self, value: object) -> None:
        self.value = value

    def __eq__(self, other: object) -> bool:
        """Return whether both hold one object."""
        return isinstance(other, Same) and self.value is other.value

    def __hash__(self) -> int:
        """Return a number of the object, not of what it holds."""
        return id(self.value)


def kept(value: Value, key: Hashable, work: Callable[[], T]) -> T:
    """Return what `work` makes, made at most once for this value and key.

    Parameters
    ----------
    value : Value
        Frozen; what is kept must follow from it and from the key alone.
    key : hashable
        Name of the work and everything else that it depends on.
    work : callable
        Makes the result; when it raises, nothing is kept.

    Returns
    -------
    object
        Shared by all who ask, so it must itself be frozen.
    """
    shelf: dict[Hashable, Any] = value.__dict__.setdefault(_PLACE, {})
    if key not in shelf:
        shelf[key] = work()
    out: T = shelf[key]
    return out
