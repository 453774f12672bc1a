"""Read a bundle from a stranger: nothing is trusted, nothing is run, nothing leaves its place."""

from __future__ import annotations

import hashlib
import stat
import unicodedata
import zipfile
import zlib
from collections.abc import Iterable
from pathlib import Path, PurePosixPath
from typing import Any

from fleetstats.core.doors.zip_door import ZipRefused, open_zip, shown_name
from fleetstats.core.errors import ReportError
from fleetstats.core.limits import above
from fleetstats.core.value import Value, value
from fleetstats.report.bundle.pack import LIST, SCHEMA, zip_of
from fleetstats.report.bundle.seal import SIGNATURE
from fleetstats.report.bundle.strict import Strict, read_strict

DEVICES = frozenset(
    ["con", "prn", "aux", "nul", "conin$", "conout$", "clock$"]
    + [f"{kind}{n}" for kind in ("com", "lpt") for n in "0123456789\u00b9\u00b2\u00b3"]
)
"""Names that one common system takes for devices, whatever stands behind the first point."""
MOST_DEEP = 16
"""Folders within folders; ours go down three."""


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
        with open_zip(path, size="bundle_bytes", members="bundle_members") as archive:
            members, doubled = _read_members(archive)
        size = path.stat().st_size
    except ZipRefused as error:
        raise ReportError(
            f"The bundle '{path.name}' was refused: {error}.",
            "No bundle of ours holds such a thing.",
        ) from None
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


def lay_out_study(bundle: Unpacked, place: Path) -> Path:
    """Write the study's own files of a bundle into a folder of its name; return that folder.

    Parameters
    ----------
    bundle : Unpacked
        The bundle; its names were judged when it was read.
    place : Path
        A folder outside every study.
    """
    folder = place / bundle.name
    for name, data in bundle.members.items():
        if name.startswith("study/"):
            target = folder.joinpath(*name.split("/")[1:])
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(data)
    return folder


def _wrapped_alike(path: Path, size: int, again: bytes) -> bool:
    return size == len(again) and path.read_bytes() == again


def _read_members(archive: zipfile.ZipFile) -> tuple[dict[str, bytes], tuple[str, ...]]:
    out: dict[str, bytes] = {}
    doubled: list[str] = []
    for info in archive.infolist():
        if info.is_dir():
            continue
        name = _safe_name(info)
        if name in out:
            doubled.append(name)
            continue
        with archive.open(info) as f:  # gives no more than the member's entry says that it has
            out[name] = f.read()
    _refuse_clashes(out)
    return out, tuple(dict.fromkeys(doubled))


def _safe_name(info: zipfile.ZipInfo) -> str:
    name = info.filename
    shown = shown_name(name)
    if stat.S_ISLNK(info.external_attr >> 16):
        raise ZipRefused(f"'{shown}' is a link")
    if too_long := above(len(name.encode("utf-8", "replace")), "bundle_name"):
        raise ZipRefused(f"the name '{shown}' has {too_long}")
    parts = name.split("/")
    # what zipfile gives as a name ends at the first NUL; what was written may go on
    if (
        not name
        or name != getattr(info, "orig_filename", name)
        or "\\" in name
        or ":" in name
        or PurePosixPath(name).is_absolute()
        or any(p in ("..", ".", "") for p in parts)
        or len(parts) > MOST_DEEP
        or not name.isprintable()
    ):
        raise ZipRefused(f"the name '{shown}' leads out of its folder, or is no plain name")
    for p in parts:
        if p.partition(".")[0].rstrip(" ").lower() in DEVICES or p[-1] in ". ":
            raise ZipRefused(f"the name '{shown}' means something else on another system")
    return name


def _refuse_clashes(members: Iterable[str]) -> None:
    """Refuse names that some system takes for one: capitals, accents, a file that is a folder."""
    seen: dict[str, str] = {}
    for name in members:
        first = seen.setdefault(_folded(name), name)
        if first != name:
            raise ZipRefused(f"'{first}' and '{name}' are one name on some systems")
    for name in members:
        for folder in PurePosixPath(_folded(name)).parents:
            if str(folder) in seen:
                raise ZipRefused(f"'{seen[str(folder)]}' is a file and a folder")


def _folded(name: str) -> str:
    return unicodedata.normalize("NFKC", name).casefold()


def _read_list(text: bytes) -> Strict:
    wrong, strict = "", Strict(content=None, doubled=())
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
