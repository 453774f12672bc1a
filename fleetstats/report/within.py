"""A report written within a bound of memory: each file leaves memory as soon as it is made.

What the bound does not hold is left out with a word in its place, while the rest is written; the
results are never left out. Paper and pictures are made in a process of their own, one
after the other, since the library that sets them ends its process where it gets no memory.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Collection, Iterable, Iterator, MutableMapping
from itertools import count
from pathlib import Path
from typing import Any, TypeVar

from fleetstats.advice.results import Results
from fleetstats.core.beside import Beside, Later
from fleetstats.core.errors import ReportError
from fleetstats.core.fenced import Fence, FenceReached, Refused, call_fenced
from fleetstats.core.memory import give_back, held_to, say_memory
from fleetstats.core.provenance import digest_file
from fleetstats.document.brief import DIGEST_OF
from fleetstats.document.document import Document
from fleetstats.report.write import PAGE, PAPER, put_files, render_files

R = TypeVar("R")

LEFT_OUT = ".left-out.txt"
"""What the name of a file ends with that stands in place of one that was left out."""

LONGEST_S = 3_600
"""Seconds after which a piece of paper or a picture is given up."""

ADDRESSES = 2**36
"""Addresses that a process may ask for; what it may fill is bounded by the bound itself."""


class Spilled(MutableMapping[str, bytes]):
    """Files of a report on the disk, by their names.

    Parameters
    ----------
    folder : Path
        Where they lie; nothing else is there.
    bound : int
        Bytes of memory within which the report is written.
    """

    def __init__(self, folder: Path, bound: int) -> None:
        self.folder, self.bound = folder, bound
        self.left_out: list[str] = []
        self._places: dict[str, Path] = {}
        self._numbers = count()

    def __setitem__(self, name: str, data: bytes) -> None:
        self.put_pieces(name, (data,))

    def __getitem__(self, name: str) -> bytes:
        return self._places[name].read_bytes()

    def put_pieces(self, name: str, pieces: Iterable[bytes]) -> None:
        """Put a file that is made piece by piece; it never stands in memory whole."""
        place = self._places.get(name, self.folder / str(next(self._numbers)))
        try:
            with place.open("wb") as f:
                f.writelines(pieces)
        except BaseException:  # half a file is none
            self._places.pop(name, None)
            place.unlink(missing_ok=True)
            raise
        self._places[name] = place

    def digest_of(self, name: str) -> str:
        """Return the SHA-256 of a file."""
        return digest_file(self._places[name])

    def copy_to(self, name: str, target: Path) -> None:
        """Copy a file's bytes."""
        shutil.copyfile(self._places[name], target)

    def __delitem__(self, name: str) -> None:
        self._places.pop(name).unlink()

    def __iter__(self) -> Iterator[str]:
        return iter(tuple(self._places))

    def __len__(self) -> int:
        return len(self._places)

    def leave_out(self, name: str) -> None:
        """Let a word stand in place of a file that does not fit."""
        self.left_out.append(name)
        said = (
            f"{name} is not here: it could not be made within {say_memory(self.bound)} of memory. "
            "The rest of the report does not rest on it. Give --memory more, or fewer rows.\n"
        )
        self[f"{name}{LEFT_OUT}"] = said.encode()


class Apart(Beside):
    """Does each piece of work that it is asked for in a process of its own, when it is taken."""

    def __init__(self) -> None:
        super().__init__(wanted=False)

    def ask(self, function: Callable[..., R], *arguments: Any) -> Later[R]:
        """Hand out a piece of work; its `take` raises MemoryError where it does not fit."""
        return Later(_call, (function, arguments))


def write_within(document: Document, results: Results, folder: Path, bound: int) -> tuple[str, ...]:
    """Write a report within a bound of memory; return the names of what does not fit.

    Parameters
    ----------
    document : Document
        The composed report.
    results : Results
        Those behind it.
    folder : Path
        As for `write_report`.
    bound : int
        Bytes that this process, and each that it starts, may take of its own.

    Raises
    ------
    ReportError
        As `write_report`.
    MemoryError
        If the results themselves do not fit.
    """
    with tempfile.TemporaryDirectory(prefix="fleetstats-") as place, held_to(bound):
        files = Spilled(Path(place), bound)
        give_back()  # what the computing has left free between what is still in use
        render_files(document, results, Apart(), into=files)
        put_files(files, folder)
        return tuple(files.left_out)


def first_written(left_out: Collection[str]) -> str:
    """Return the file of a report to open first: the page, or what stands in for it.

    Parameters
    ----------
    left_out : collection of str
        What `write_within` left out.
    """
    return next((n for n in (PAGE, PAPER) if n not in left_out), DIGEST_OF)


def say_unwritten(names: tuple[str, ...]) -> str:
    """Return the sentence that names what did not fit; blank where all did."""
    return f"Left out of the report for want of memory: {', '.join(names)}." if names else ""


def _call(function: Callable[..., R], arguments: tuple[Any, ...]) -> R:
    fence = Fence(memory_bytes=ADDRESSES, seconds=LONGEST_S, file_bytes=ADDRESSES)
    try:
        return call_fenced(function, *arguments, fence=fence, named={}).result
    except Refused as error:
        raise ReportError(error.message, error.hint) from None
    except FenceReached as error:
        if error.why in ("memory", "ended"):  # the library ends its process for want of memory
            raise MemoryError(str(error)) from None
        raise ReportError(f"A part of the report could not be made: {error}") from None
