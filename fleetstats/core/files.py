"""Files written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def write_whole(path: Path, data: bytes | str, *, replace: bool = True) -> None:
    """Write a file so that no reader ever sees part of it: temporary file, sync, rename.

    Parameters
    ----------
    path : Path
        Where the file will lie; its folder must exist.
    data : bytes or str
        Text is written as UTF-8 with line feeds.
    replace : bool
        False refuses to take the place of a file that is there.

    Raises
    ------
    FileExistsError
        If the file is there and `replace` is false.
    OSError
        If the folder cannot be written to; it names the file asked for, not the temporary one.
    """
    raw = data.encode("utf-8") if isinstance(data, str) else data
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    except OSError as error:
        raise OSError(error.errno, error.strerror, str(path)) from None
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as f:
            f.write(raw)
            f.flush()
            os.fsync(f.fileno())
        # mkstemp makes files that only their owner may read; a report is meant to be read.
        part.chmod(0o644)
        if replace:
            part.replace(path)
        else:
            os.link(part, path)
    finally:
        part.unlink(missing_ok=True)
