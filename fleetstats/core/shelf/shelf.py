"""The folder of kept results: the user's own, one part for each version, the oldest going first.

Nothing here is needed for any answer: what cannot be read or written is passed over, and the work
is done anew.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import stat
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from pickle import PicklingError
from typing import Any

from fleetstats.core.files import write_whole
from fleetstats.core.shelf.sealed import (
    Unsealed,
    seal,
    seal_of,
    take_apart,
    unseal,
    versions_now,
)
from fleetstats.core.stages import silent

FOLDER_VARIABLE = "FLEETSTATS_KEPT"
"""Names the folder of kept results; "no" keeps none."""

MOST_BYTES = 2**30
"""All kept results together: some ten long tables, a small part of any disk of today."""

MOST_OF_ONE = 2**28
"""One result: the rows of some four million lives. A longer table is read anew each time."""

MOST_OF_HEAD = 2**20
"""What one result depends on, in bytes."""

MOST_OF_KIND = 3
"""Results of one kind of one study: this state of its files and settings, and two before."""

ENDING = ".kept"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """The kept results of one study folder, made by this version.

    Parameters
    ----------
    root : Path
        The folder of all kept results.
    folder : Path
        That of this version and study; made when something is kept.
    tell : callable
        Told where a kept result is refused, or taken up.
    """

    root: Path
    folder: Path
    tell: Callable[[str], None] = silent

    def take(self, kind: str, fits: Callable[[dict[str, Any]], bool]) -> tuple[Any, ...]:
        """Return (what it depends on, result) of the first that fits, the latest first, or ().

        Parameters
        ----------
        kind : str
            Of result.
        fits : callable
            Says whether what a result depends on is as it was.
        """
        for path in self._of_kind(kind):
            try:
                with path.open("rb") as f:  # another run may put another in its place
                    head = b"".join(f.readline(MOST_OF_HEAD) for _ in range(3))
                    if not fits(take_apart(head).about):
                        continue
                    sealed = take_apart(head, f.read())
                result = unseal(sealed)
            except (OSError, MemoryError):
                continue
            except (Unsealed, KeyError, TypeError, ValueError) as why:
                self._refuse(path, str(why))
                continue
            with contextlib.suppress(OSError):
                os.utime(path)
            return sealed.about, result
        return ()

    def holds(self, kind: str) -> bool:
        """Return whether any result of a kind is kept, whatever it depends on."""
        return bool(self._of_kind(kind))

    def keep(self, kind: str, about: dict[str, Any], result: object) -> None:
        """Keep a result, whole or not at all; the oldest make room."""
        try:
            raw = seal(about, result)
        except (MemoryError, RecursionError, PicklingError, AttributeError, TypeError):
            return  # no answer may depend on whether there was room
        if len(raw) > MOST_OF_ONE:
            return
        digest = hashlib.sha256(repr(sorted(about.items())).encode()).hexdigest()
        with contextlib.suppress(OSError):
            _make_own(self.root)
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            write_whole(self.folder / f"{kind}-{digest[:24]}{ENDING}", raw, mode=0o600)
            for path in self._of_kind(kind)[MOST_OF_KIND:]:
                path.unlink(missing_ok=True)
            trim(self.root)

    def forget(self) -> None:
        """Take all that is kept of this study away."""
        for path in _files(self.folder):
            with contextlib.suppress(OSError):
                path.unlink(missing_ok=True)

    def _of_kind(self, kind: str) -> list[Path]:
        # of one kind exactly: the name of another may begin alike
        mine = [p for p in _files(self.folder) if p.name.rpartition("-")[0] == kind]
        return sorted(mine, key=_age, reverse=True)

    def _refuse(self, path: Path, why: str) -> None:
        self.tell(f"A kept result was not used, since it is {why}; the work is done anew.")
        with contextlib.suppress(OSError):
            path.unlink(missing_ok=True)


def open_shelf(
    study: Path, *, again: bool = False, tell: Callable[[str], None] = silent
) -> Shelf | None:
    """Return the kept results of a study folder; None where none are to be kept or can be.

    Parameters
    ----------
    study : Path
        The study's folder.
    again : bool
        Whether what is kept of it is forgotten first.
    tell : callable
        As of `Shelf`.
    """
    root = _root()
    if root is None:
        return None
    version = seal_of(versions_now())[:16]
    name = hashlib.sha256(os.fsencode(study.resolve())).hexdigest()[:24]
    shelf = Shelf(root=root, folder=root / version / name, tell=tell)
    if again:
        shelf.forget()
    return shelf if _is_own(root) else None


def trim(root: Path, most: int | None = None) -> None:
    """Take the oldest kept results away until all together are within their bound in bytes."""
    files = sorted(_files(root), key=_age)
    sizes = [_size(p) for p in files]
    over = sum(sizes) - (MOST_BYTES if most is None else most)
    for path, size in zip(files, sizes, strict=True):
        if over <= 0:
            return
        with contextlib.suppress(OSError):
            path.unlink(missing_ok=True)
            over -= size


def _root() -> Path | None:
    told = os.environ.get(FOLDER_VARIABLE, "")
    if told == "no":
        return None
    if told:
        return Path(told)
    if sys.platform == "win32":
        own = os.environ.get("LOCALAPPDATA", "")
    else:
        own = os.environ.get("XDG_CACHE_HOME", "")
    try:
        return (Path(own) if own and Path(own).is_absolute() else Path.home() / ".cache") / (
            "fleetstats"
        )
    except RuntimeError:  # a user without a home
        return None


def _make_own(root: Path) -> None:
    root.mkdir(mode=0o700, parents=True, exist_ok=True)
    if not _is_own(root):
        raise OSError("not a folder of one's own")


def _is_own(root: Path) -> bool:
    """Return whether nobody else can have written into a folder; one that is not there is ours."""
    try:
        told = root.stat()
    except FileNotFoundError:
        return True
    except OSError:
        return False
    if not hasattr(os, "getuid"):
        return stat.S_ISDIR(told.st_mode)
    ours = told.st_uid == os.getuid() and not told.st_mode & 0o022
    return stat.S_ISDIR(told.st_mode) and ours


def _files(folder: Path) -> Iterator[Path]:
    with contextlib.suppress(OSError):
        yield from (p for p in folder.rglob(f"*{ENDING}") if p.is_file() and not p.is_symlink())


def _age(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0
