"""One digest for the program's own files: two states of it may say the same version."""

from __future__ import annotations

import functools
import hashlib
import os
from pathlib import Path

PROGRAM = "program files"
"""Name under which the digest stands among versions."""

LEFT_OUT = ("__pycache__",)
"""Folders that Python itself writes."""

DIGITS = 16
"""Hexadecimal digits that are kept: enough to tell states apart, short enough to read."""


@functools.cache
def program_digest() -> str:
    """Return the digest of all files of this package, their names with them; once per process."""
    return digest_folder(Path(__file__).parents[1])


def digest_folder(folder: Path) -> str:
    """Return the first digits of the SHA-256 over names and contents of a folder's files."""
    h = hashlib.sha256()
    files: dict[str, str] = {}
    for place, folders, names in os.walk(folder):
        folders[:] = [f for f in folders if f not in LEFT_OUT]
        inside = Path(place).relative_to(folder).as_posix()
        files |= {f"{inside}/{n}": os.path.join(place, n) for n in names}  # noqa: PTH118, quicker
    for name, path in sorted(files.items()):
        with open(path, "rb") as f:  # noqa: PTH123, quicker
            h.update(f"{name}\n".encode() + hashlib.sha256(f.read()).digest())
    return h.hexdigest()[:DIGITS]
