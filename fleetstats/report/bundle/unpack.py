"""Read a bundle from a stranger: nothing is trusted, nothing is run, nothing leaves its place."""

from __future__ import annotations

import hashlib
import stat
import zipfile
import zlib
from pathlib import Path, PurePosixPath
from typing import Any

from fleetstats.core.errors import ReportError
from fleetstats.core.value import Value, value
from fleetstats.report.bundle.pack import LIST, SCHEMA, zip_of
from fleetstats.report.bundle.seal import SIGNATURE
from fleetstats.report.bundle.strict import Strict, read_strict

MOST_MEMBERS = 5_000
MOST_BYTES = 512 * 2**20
"""Unpacked size in all; a study's report is some megabytes."""
MOST_LIST_BYTES = 8 * 2**20
MOST_RATIO = 400
"""Unpacked over packed size of one member above 1 MiB; text and tables stay far below."""


@value
class Unpacked(Value):
    """A bundle's members, and which of them are not what its list says.

    `altered` are members whose bytes differ, `missing` are listed and absent, `extra` are present
    and not listed, `doubled` are names that stand in the zip twice, of which the first is read.
    `list_text` is the list as it is written, `list_doubled` its keys that stand twice in one
    object. `wrapped_alike` says whether the zip is to the byte the one that packing these
    members here gives; its own headers may otherwise differ, or hold what belongs to no member.
    `signature` is the one that lies with the list; None where none does.
    """

    listed: dict[str, Any]
    members: dict[str, bytes]
    digest: str
    altered: tuple[str, ...]
    missing: tuple[str, ...]
    extra: tuple[str, ...]
    doubled: tuple[str, ...] = ()
    list_text: bytes = b""
    signature: bytes | None = None
    list_doubled: tuple[str, ...] = ()
    wrapped_alike: bool = True

    _not_in_dict = ("members", "listed", "list_text", "signature")

    @property
    def name(self) -> str:
        """Return the study's name in the bundle."""
        return str(self.listed["name"])

    @property
    def intact(self) -> bool:
        """Return whether every byte is as listed and nothing was added or left out."""
        return not (self.altered or self.missing or self.extra or self.doubled)


def unpack_bundle(path: Path) -> Unpacked:
    """Read a bundle into memory, within limits.

    Raises
    ------
    ReportError
        If the file is no zip or no bundle, or holds what no bundle holds: absolute names, names
        that climb, links, encrypted members, more than the limits allow.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            members, doubled = _read_members(archive)
        size = path.stat().st_size
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError) as error:
        raise ReportError(
            f"'{path.name}' cannot be read as a zip ({error}).",
            "Ask for the bundle again; it was damaged or is something else.",
        ) from None
    except OSError as error:
        raise ReportError(
            f"'{path.name}' cannot be opened: {error.strerror or error}.", "Check the name."
        ) from None
    text = members.pop(LIST, None)
    signature = members.pop(SIGNATURE, None)
    if text is None:
        raise ReportError(
            f"'{path.name}' holds no {LIST}.", "It is not a bundle, or its list was taken out."
        )
    strict = _read_list(text)
    listed: dict[str, Any] = strict.content
    files = listed["files"]
    return Unpacked(
        listed=listed,
        members=members,
        digest=hashlib.sha256(text).hexdigest(),
        altered=tuple(
            sorted(
                k
                for k, v in members.items()
                if k in files and hashlib.sha256(v).hexdigest() != files[k].get("sha256")
            )
        ),
        missing=tuple(sorted(set(files) - set(members))),
        extra=tuple(sorted(set(members) - set(files))),
        doubled=doubled,
        list_text=text,
        signature=signature,
        list_doubled=strict.doubled,
        wrapped_alike=_wrapped_alike(path, size, zip_of(text, members, signature)),
    )


def _wrapped_alike(path: Path, size: int, again: bytes) -> bool:
    return size == len(again) and path.read_bytes() == again


def _refuse(what: str) -> ReportError:
    return ReportError(f"The bundle was refused: {what}.", "No bundle of ours holds such a thing.")


def _read_members(archive: zipfile.ZipFile) -> tuple[dict[str, bytes], tuple[str, ...]]:
    infos = [i for i in archive.infolist() if not i.is_dir()]
    if len(infos) > MOST_MEMBERS:
        raise _refuse(f"it holds {len(infos):,} files, more than {MOST_MEMBERS:,}")
    if sum(i.file_size for i in infos) > MOST_BYTES:
        raise _refuse(f"it unpacks to more than {MOST_BYTES // 2**20} MiB")
    out: dict[str, bytes] = {}
    doubled: list[str] = []
    left = MOST_BYTES
    for info in infos:
        name = _safe_name(info)
        if name in out:
            doubled.append(name)
            continue
        if info.file_size > 2**20 and info.file_size > MOST_RATIO * max(info.compress_size, 1):
            raise _refuse(f"'{name}' is packed more than {MOST_RATIO} times smaller than it is")
        with archive.open(info) as f:
            # the size in the header is the writer's word; read no more than the limit
            data = f.read(min(left, info.file_size) + 1)
        if len(data) > min(left, info.file_size):
            raise _refuse(f"'{name}' is larger than it says")
        left -= len(data)
        out[name] = data
    return out, tuple(dict.fromkeys(doubled))


def _safe_name(info: zipfile.ZipInfo) -> str:
    name = info.filename
    shown = name.encode("unicode_escape").decode()[:120]
    if info.flag_bits & 0x1:
        raise _refuse(f"'{shown}' is encrypted")
    if stat.S_ISLNK(info.external_attr >> 16):
        raise _refuse(f"'{shown}' is a link")
    path = PurePosixPath(name)
    if (
        not name
        or "\\" in name
        or ":" in name
        or path.is_absolute()
        or any(p in ("..", ".", "") for p in name.split("/"))
        or not name.isprintable()
    ):
        raise _refuse(f"the name '{shown}' leads out of its folder")
    return name


def _read_list(text: bytes) -> Strict:
    wrong = "too long" if len(text) > MOST_LIST_BYTES else ""
    strict = Strict(content=None, doubled=())
    if not wrong:
        try:
            strict = read_strict(text)
        except ValueError as error:
            wrong = f"no JSON: {error}"
    wrong = wrong or _wrong_in_list(strict.content)
    if wrong:
        raise ReportError(
            f"The bundle's {LIST} cannot be read ({wrong}).",
            f"It must be JSON with schema '{SCHEMA}', a name and its files.",
        )
    return strict


def _wrong_in_list(listed: Any) -> str:
    if not isinstance(listed, dict) or listed.get("schema") != SCHEMA:
        return "another schema"
    files, name = listed.get("files"), listed.get("name")
    if not isinstance(files, dict) or not all(isinstance(v, dict) for v in files.values()):
        return "no table of files"
    if not isinstance(name, str) or not name.replace("-", "").isalnum() or len(name) > 200:
        return "no name"
    return ""
