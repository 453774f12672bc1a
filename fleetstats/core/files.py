"""Files written whole or not at all, by one run at a time."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path


def write_whole(path: Path, data: bytes | str, *, replace: bool = True, mode: int = 0o644) -> None:
    """Write a file so that no reader ever sees part of it: temporary file, sync, rename.

    Parameters
    ----------
    path : Path
        Where the file will lie; its folder must exist.
    data : bytes or str
        Text is written as UTF-8 with line feeds.
    replace : bool
        False refuses to take the place of a file that is there.
    mode : int
        Who may read it, where the disk keeps that.

    Raises
    ------
    FileExistsError
        If the file is there and `replace` is false.
    OSError
        If the disk refuses; it names the file asked for, not the temporary one, and what bore that
        name is as it was.
    """
    raw = data.encode("utf-8") if isinstance(data, str) else data
    part: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
        part = Path(name)
        with os.fdopen(handle, "wb") as f:
            f.write(raw)
            f.flush()
            os.fsync(f.fileno())
        # mkstemp makes files that only their owner may read; a report is meant to be read.
        with contextlib.suppress(OSError):  # a FAT stick keeps no modes
            part.chmod(mode)
        if replace:
            part.replace(path)
        else:
            _put_new(part, path)
    except OSError as error:
        raise OSError(error.errno, error.strerror or str(error), str(path)) from None
    finally:
        if part is not None:
            part.unlink(missing_ok=True)


def _put_new(part: Path, path: Path) -> None:
    """Give a file its name unless that is taken; also where a disk knows no second name of one."""
    try:
        os.link(part, path)
    except FileExistsError:
        raise
    except OSError:
        # The name is taken first, so that no file of another run is ever written over.
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
        try:
            part.replace(path)
        except BaseException:
            path.unlink(missing_ok=True)
            raise


@contextlib.contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Hold a folder for a moment, so that no other run writes into it meanwhile.

    The lock dies with its process and leaves no file. Where a system has no such locks, nothing is
    held.
    """
    handle = None
    with contextlib.suppress(ImportError, OSError):
        import fcntl

        handle = os.open(folder, os.O_RDONLY)
        fcntl.flock(handle, fcntl.LOCK_EX)
    try:
        yield
    finally:
        if handle is not None:
            os.close(handle)
