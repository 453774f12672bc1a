"""A bound on the memory of this process and of those that it starts, where the system holds one."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager

from fleetstats.core.errors import SettingError

UNITS = {"MB": 10**6, "GB": 10**9, "MIB": 2**20, "GIB": 2**30}

LEAST_BYTES = 600 * 10**6
"""One process with its libraries takes up to 350 MB before it has read a row."""

_SIZE = re.compile(r"\s*(\d{1,6}(?:\.\d{1,3})?)\s*([A-Za-z]{2,3})\s*", re.ASCII)


def read_memory(text: str, *, processes: int = 1) -> int:
    """Return the bytes that each of some processes may take of a size in words.

    Parameters
    ----------
    text : str
        A number with a unit, as ``2GB`` or ``1500 MB``; decimal, or binary with an ``i``.
    processes : int
        How many share it.

    Raises
    ------
    SettingError
        If it is no such size, or too little for so many.

    Examples
    --------
    >>> read_memory("2GB", processes=2)
    1000000000
    """
    found = _SIZE.fullmatch(text)
    unit = next((u for u in UNITS if found and re.fullmatch(u, found[2], re.IGNORECASE)), None)
    if found is None or unit is None:
        raise SettingError(
            f"'{text[:40]}' is no size of memory.", "Give a number with MB or GB, such as 2GB."
        )
    each = int(float(found[1]) * UNITS[unit]) // processes
    if each < LEAST_BYTES:
        raise SettingError(
            f"A memory of {text.strip()} is {say_memory(each)} for each of {processes} processes."
            if processes > 1
            else f"A memory of {text.strip()} is too little.",
            f"Give {say_memory(LEAST_BYTES * processes)} or more"
            + (", or use fewer --workers." if processes > 1 else "."),
        )
    return each


def say_memory(n_bytes: float) -> str:
    """Return a size of memory in words.

    >>> say_memory(1.5e9), say_memory(6e8)
    ('1.5 GB', '600 MB')
    """
    return f"{n_bytes / 1e9:.3g} GB" if n_bytes >= 1e9 else f"{n_bytes / 1e6:.0f} MB"


@contextmanager
def held_to(n_bytes: int | None) -> Iterator[bool]:
    """Hold this process, and each that it starts meanwhile, to so many bytes of data of its own.

    Whatever asks for more gets a MemoryError. Yields whether the system holds it; without a bound
    nothing is held. Linux counts what a process may write alone since 4.7 (getrlimit(2),
    RLIMIT_DATA).
    """
    if n_bytes is None:
        yield False
        return
    try:
        import resource

        soft, hard = resource.getrlimit(resource.RLIMIT_DATA)
        most = n_bytes if hard == resource.RLIM_INFINITY else min(n_bytes, hard)
        resource.setrlimit(resource.RLIMIT_DATA, (most, hard))
    except (ImportError, AttributeError, ValueError, OSError):
        yield False
        return
    try:
        yield True
    finally:
        resource.setrlimit(resource.RLIMIT_DATA, (soft, hard))
