"""An archive from a stranger, opened so that nothing it says of itself costs more than it may."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fleetstats.core.doors.plain_files import kind_of_path
from fleetstats.core.limits import MIB, above, most

KNOWN_WAYS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
"""Ways of packing that take no more memory than what they unpack."""


class ZipRefused(Exception):
    """An archive that is not opened, or a member that is not read: what was found, as a clause."""


class _Door(io.FileIO):
    """A file of which no more is read at once than an archive's table of members may have."""

    guarded = True

    def read(self, size: int | None = -1, /) -> bytes:
        if self.guarded and size is not None and size > most("directory_bytes"):
            raise ZipRefused(f"its table of members has {above(size, 'directory_bytes')}")
        return super().read(-1 if size is None else size) or b""


@contextmanager
def open_zip(path: Path, *, size: str, members: str) -> Iterator[zipfile.ZipFile]:
    """Open an archive whose table of members is within limits.

    Parameters
    ----------
    path : Path
        The file.
    size, members : str
        Keys of `fleetstats.core.limits.LIMITS`: bytes of all members together, packed as well as
        unpacked by what the table says of them, and their number. No more than it says is ever
        unpacked of a member.

    Raises
    ------
    ZipRefused
        If it is no regular file, or passes a limit, or a member is encrypted, packed in a way
        other than the two that all programs know, or far smaller packed than unpacked.
    OSError, zipfile.BadZipFile, ValueError, NotImplementedError
        As `zipfile` raises them.
    """
    kind = kind_of_path(path)
    if kind:
        raise ZipRefused(f"it is {kind}, no regular file")
    _keep(above(path.stat().st_size, size), "it has")
    with _Door(path) as door, zipfile.ZipFile(door) as archive:
        door.guarded = False
        infos = archive.infolist()
        _keep(above(len(infos), members), "it holds")
        _keep(above(sum(i.file_size for i in infos), size), "it unpacks to")
        for info in infos:
            check_member(info)
        yield archive


def check_member(info: zipfile.ZipInfo) -> None:
    """Raise `ZipRefused` where a member cannot be unpacked within proportion.

    Raises
    ------
    ZipRefused
    """
    name = shown_name(info.filename)
    if info.flag_bits & 0x1:
        raise ZipRefused(f"'{name}' is encrypted")
    if info.compress_type not in KNOWN_WAYS:
        raise ZipRefused(f"'{name}' is packed in an uncommon way ({info.compress_type})")
    if info.file_size > MIB:
        ratio = -(-info.file_size // max(info.compress_size, 1))
        _keep(above(ratio, "ratio"), f"'{name}' grows, when unpacked,")


def shown_name(name: str) -> str:
    """Return a member's name as it may be printed, shortened."""
    return name.encode("unicode_escape", "surrogatepass").decode()[:120]


def _keep(too_much: str, what: str) -> None:
    if too_much:
        raise ZipRefused(f"{what} {too_much}")
