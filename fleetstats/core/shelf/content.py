"""The digest of what a value holds, whichever objects hold it and in whatever process."""

from __future__ import annotations

import hashlib
import pickle
from typing import Any

import numpy as np


def digest_content(held: object) -> str | None:
    """Return the SHA-256 of a value's content; None of what cannot be told by its content.

    Two values of one digest are equal. Equal ones have one digest where no set of several lies
    inside them, since that has no order.

    Parameters
    ----------
    held : object
        Made of our values, arrays, dates and plain collections.
    """
    told = _Digester()
    try:
        _ByContent(told).dump(tuple(sorted(held)) if isinstance(held, set | frozenset) else held)
    except (pickle.PicklingError, TypeError, AttributeError, ValueError, RecursionError,
            MemoryError):  # fmt: skip
        return None
    return told.hash.hexdigest()


class _Digester:
    """A file that keeps the digest of what is written to it."""

    def __init__(self) -> None:
        self.hash = hashlib.sha256()

    def write(self, part: Any) -> int:
        """Take the next bytes."""
        self.hash.update(part)
        return len(part)


class _ByContent(pickle.Pickler):
    """Writes each object where it stands, however often it stands there."""

    def __init__(self, file: _Digester) -> None:
        super().__init__(file, protocol=5)
        self.fast = True  # no reference to an object seen before

    def reducer_override(self, held: Any) -> Any:
        """Write an array as its numbers, however they lie in memory."""
        if type(held) is np.ndarray and not held.dtype.hasobject:
            return np.ndarray, (held.shape, held.dtype.str, held.tobytes())
        return NotImplemented
