"""What lies at a path before it is read: a pipe or a device would be read without end."""

from __future__ import annotations

import stat
from pathlib import Path

from fleetstats.core.limits import above, most

_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


def kind_of_path(path: Path) -> str:
    """Return what a path leads to that is no regular file, as words; "" where it is one.

    Raises
    ------
    OSError
        If nothing is there, or it cannot be looked at.
    """
    mode = path.stat().st_mode
    if stat.S_ISREG(mode):
        return ""
    return next((words for test, words in _KINDS if test(mode)), "no regular file")


def read_plain(path: Path, limit: str) -> bytes:
    """Return the bytes of a regular file within a limit.

    Parameters
    ----------
    path : Path
        The file.
    limit : str
        A key of `fleetstats.core.limits.LIMITS`, counted in bytes.

    Raises
    ------
    OSError
        If it cannot be opened, is no regular file, or is longer than the limit; `strerror` says so.
    """
    kind = kind_of_path(path)
    if kind:
        raise OSError(None, f"It is {kind}; a regular file is needed", str(path))
    with path.open("rb") as f:
        data = f.read(most(limit) + 1)
    if len(data) > most(limit):
        # the file may grow while it is read, so that its size is asked for the words only
        too_much = above(max(path.stat().st_size, len(data)), limit)
        raise OSError(None, f"It has {too_much}", str(path))
    return data
