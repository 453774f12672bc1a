"""Memory that was used and is free again, given back to the system."""

from __future__ import annotations

import ctypes
import functools
import sys
from collections.abc import Callable


def give_back() -> None:
    """Give free memory back where the system's library can; elsewhere it is used again later.

    The library keeps what a long table's columns leave free between others that are in use: thirty
    million rows, joined from the columns of fifteen files, then took both their room and that of
    the files.
    """
    _trim()(0)
    arrow = sys.modules.get("pyarrow")  # who has read no Parquet has none
    if arrow is not None:
        arrow.default_memory_pool().release_unused()


@functools.cache
def _trim() -> Callable[[int], object]:
    try:
        trim: Callable[[int], object] = ctypes.CDLL(None).malloc_trim
    except (OSError, AttributeError, TypeError):  # another library, or another system
        return _keep
    return trim


def _keep(_bytes: int) -> None:
    """Give nothing back."""
