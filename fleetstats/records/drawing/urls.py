"""Files at a URL, copied as they are: the one door to the library that knows kinds of URL."""

from __future__ import annotations

from pathlib import Path, PurePosixPath
from typing import IO, Any

from fleetstats.core.errors import ReadError, SettingError
from fleetstats.core.limits import above, most
from fleetstats.study.files.patterns import is_pattern
from fleetstats.tables.open_table import PARQUETS, TEXTS, WORKBOOKS
from fleetstats.vocabulary.slugs import suffix_of

BLOCK = 1 << 20
WEB = frozenset({"http", "https"})


def draw_url(url: str, into: Path) -> list[str]:
    """Copy the file at a URL, or the files of a pattern, into a folder; return their names.

    Raises
    ------
    SettingError
        If the library that reads such URLs is not installed.
    ReadError
        If nothing is there, a file is of an unknown kind, two have one name, or they are too large.
    """
    system, path = _system_of(url)
    paths = sorted(map(str, system.glob(path))) if is_pattern(url) else [path]
    names = [PurePosixPath(p).name for p in paths]
    if not names:
        raise ReadError(f"'{url}' matches no file.", "Look at the pattern.")
    if len(set(names)) < len(names):
        raise ReadError(
            f"'{url}' matches two files of one name.", "Draw them by URLs of their own."
        )
    if len(names) > most("pattern_files"):
        raise ReadError(f"'{url}' matches {above(len(names), 'pattern_files')}.")
    for name in names:
        if suffix_of(name) not in (*TEXTS, *WORKBOOKS, *PARQUETS):
            known = ", ".join((*TEXTS, *WORKBOOKS, *PARQUETS))
            raise ReadError(f"'{name}' is of no kind that is read.", f"Known are {known}.")
    room = most("drawn_bytes")
    for name, where in zip(names, paths, strict=True):
        try:
            with _open(system, where) as source, (into / name).open("wb") as target:
                room -= _copy(source, target, room, name)
        except FileNotFoundError:
            # a store tells of what one may not see as of what is not there
            raise ReadError(
                f"'{name}' is not at '{url}', or is not to be seen from here.",
                "Look at the URL, and whether the environment's credentials are for it.",
            ) from None
    return names


def _open(system: Any, where: str) -> Any:
    """Open a file to be read once, from its first byte to its last.

    Many web servers give a file only whole; the library asks them for parts unless it is told not
    to.
    """
    kinds = [system.protocol] if isinstance(system.protocol, str) else list(system.protocol)
    whole = {"block_size": 0} if WEB & set(kinds) else {}
    return system.open(where, "rb", **whole)


def _copy(source: IO[bytes], target: IO[bytes], room: int, name: str) -> int:
    n = 0
    while block := source.read(BLOCK):
        n += len(block)
        if n > room:
            raise ReadError(f"'{name}' brings {above(n, 'drawn_bytes')}.")
        target.write(block)
    return n


def _system_of(url: str) -> tuple[Any, str]:
    scheme = url.partition("://")[0]
    try:
        from fsspec.core import url_to_fs
    except ImportError:
        raise SettingError(
            "The records are at a URL, and the library that reads URLs is not installed.",
            "Install fleetstats[remote], or copy the file into the study's folder.",
        ) from None
    try:
        system, path = url_to_fs(url)
    except ImportError:
        raise SettingError(
            f"No library that reads '{scheme}' URLs is installed.",
            f"Install what fsspec asks for '{scheme}', or copy the file into the study's folder.",
        ) from None
    except ValueError:
        raise SettingError(
            f"'{scheme}' is no kind of URL that is known.",
            "Copy the file into the study's folder.",
        ) from None
    return system, str(path)
