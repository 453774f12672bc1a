"""What the rows of a long table gave, kept, so that a table that grew is read from there on.

The readers of chunks add up; what they have added up after the last row is all that the rows below
need of those above. It is kept with the digest of the very bytes that it was made of and with the
settings that were read meanwhile, and taken up only where both are as they were.
"""

from __future__ import annotations

import hashlib
import json
import typing
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from fleetstats.core.shelf import Shelf
from fleetstats.core.value import Array, plain
from fleetstats.spells.bulk.bulk_rows import ChunkReader
from fleetstats.spells.tally import Tally
from fleetstats.study.record_settings import RecordKeys
from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile
from fleetstats.tables.chunks import TextPlace
from fleetstats.tables.csv_chunks import block_bytes
from fleetstats.tables.open_table import PARQUETS
from fleetstats.vocabulary.slugs import suffix_of

KIND = "rows"

SETTLED = "settled"
"""Kind of kept result: what the first rows of a file settle for all."""

T = TypeVar("T")

Marks = list[tuple[Array, ...]]
"""Columns of what is held of single rows, chunk by chunk."""

BESIDE = ("study", "match", "reader", "verdicts", "factors", "aside")
"""Parts of a reader of chunks that are made anew: the study's, and what only saves time."""

LEAST_MORE = 0.1
"""Share by which rows that are kept must have grown before they are kept anew: to keep those of a
million takes as long as to read a tenth of them."""

TAKEN_APART = ("tallies", "trouble", "words")
"""Parts that hold the study's settings beside what they add up."""


def every_key() -> tuple[str, ...]:
    """Return the name of every setting, where nobody noted which were read."""
    return tuple(
        f"{table.name}.{f.name}"
        for table in fields(Settings)
        for f in fields(typing.get_type_hints(Settings)[table.name])
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class FileState:
    """A file as it lies on the disk: what changes whenever its bytes do."""

    size: int
    changed_ns: int
    number: int

    @classmethod
    def of(cls, path: Path) -> FileState:
        """Return the state of a file."""
        told = path.stat()
        return cls(size=told.st_size, changed_ns=told.st_mtime_ns, number=told.st_ino)


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """Bytes of a file of which is known what they are.

    Parameters
    ----------
    about : mapping
        Tells them from others.
    place : TextPlace or None
        Where they end; None where they are the whole file.
    """

    about: Mapping[str, Any]
    place: TextPlace | None = None

    @property
    def digest(self) -> str:
        """Return the digest of what tells them from others."""
        return digest_told(self.about)

    def holds(self, lines: Array) -> Array:
        """Return (n,) bool: which lines of the file are among them."""
        return np.full(len(lines), True) if self.place is None else lines < self.place.line


class KeptRows:
    """The rows of one text that are kept, or will be: those above its last block.

    A block that ends before the text does is cut at the same place however much is added below, so
    rows taken up stand in the very blocks in which they would be read anew.

    Parameters
    ----------
    shelf : Shelf or None
        None keeps nothing.
    file : RecordFile
    settings : Settings
        Plain, or telling which keys are read.
    reads : callable
        Says which settings were read so far, as ``table.key``.
    """

    def __init__(
        self,
        shelf: Shelf | None,
        file: RecordFile,
        settings: Settings,
        reads: Callable[[], tuple[str, ...]] = every_key,
    ) -> None:
        self.shelf = None if suffix_of(file.file) in PARQUETS else shelf
        self.file = file
        self.kind = kind_of(KIND, file)
        self.settings = settings
        self.reads = reads
        self.state = FileState.of(file.path)
        self.after: TextPlace | None = None
        self.taken: tuple[str, ...] = ()
        self.before: Known | None = None
        self.now: Known | None = None

    @property
    def unchanged(self) -> bool:
        """Return whether the file is still that which was opened."""
        return FileState.of(self.file.path) == self.state

    def take_up(self, reader: ChunkReader, tally: Tally, marks: Marks) -> None:
        """Bring a reader, tally and marks, all at their beginning, to where kept rows end."""
        found = () if self.shelf is None else self.shelf.take(self.kind, self._fits)
        if not found or self.shelf is None:
            return
        about, held = found
        restore_rows(held, reader, tally, marks)
        self.after = TextPlace(**about["place"])
        self.taken = tuple(about["settings"])
        self.before = self.now = _known(about)
        self.shelf.tell(
            f"The first {reader.n_read:,} rows of {self.file.file} are as they were when they were "
            "read before; those below are read (--again reads all)."
        )

    def keep(self, end: TextPlace | None, reader: ChunkReader, tally: Tally, marks: Marks) -> None:
        """Keep what all rows down to a place gave, if it is the last that more rows leave alone."""
        if self.shelf is None or end is None:
            return
        if not 0 <= self.state.size - end.seen < block_bytes():
            return
        if self.after is not None and end.seen - self.after.seen < LEAST_MORE * self.after.seen:
            return
        about = {
            "file": file_keys(self.file),
            "settings": told_settings(self.settings, {*self.taken, *self.reads()}),
            "place": asdict(end),
            "sha256": digest_of(self.file.path, end.seen),
        }
        if self.unchanged:
            self.now = _known(about)
            self.shelf.keep(self.kind, about, hold_rows(reader, tally, marks))

    def _fits(self, about: Mapping[str, Any]) -> bool:
        seen = about["place"]["seen"]
        return bool(
            about["file"] == file_keys(self.file)
            and seen <= self.state.size
            and settings_stand(self.settings, about["settings"])
            and about["sha256"] == digest_of(self.file.path, seen)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptSettled:
    """What the first chunk of one text settles for its cells, kept with the bytes that say so.

    Parameters
    ----------
    shelf : Shelf or None
        None keeps nothing.
    file : RecordFile
    """

    shelf: Shelf | None
    file: RecordFile

    def take_or_settle(
        self, covariates: Sequence[str], settle: Callable[[], tuple[T, TextPlace | None]]
    ) -> T:
        """Return what is settled, as it was kept or as `settle` finds it and says where.

        Parameters
        ----------
        covariates : sequence of str
            Columns that are read besides.
        settle : callable
            Gives it, and where the chunk ends that it rests on; None where that is the whole file.
        """
        shelf, kind = self.shelf, kind_of(SETTLED, self.file)
        about = {"file": file_keys(self.file), "covariates": [*covariates]}

        def fits(told: Mapping[str, Any]) -> bool:
            seen, rest = told["seen"], {k: told[k] for k in about}
            size = self.file.path.stat().st_size
            return (
                rest == about and seen <= size and told["sha256"] == digest_of(self.file.path, seen)
            )

        if shelf is not None and (found := shelf.take(kind, fits)):
            held: T = found[1]
            return held
        state = FileState.of(self.file.path)
        out, end = settle()
        if shelf is not None and end is not None:
            told = {**about, "seen": end.seen, "sha256": digest_of(self.file.path, end.seen)}
            if FileState.of(self.file.path) == state:
                shelf.keep(kind, told, out)
        return out


def _known(about: Mapping[str, Any]) -> Known:
    return Known(
        about={k: about[k] for k in ("file", "place", "sha256")}, place=TextPlace(**about["place"])
    )


def digest_of(path: Path, n_bytes: int) -> str:
    """Return the SHA-256 of the first bytes of a file."""
    h, left = hashlib.sha256(), n_bytes
    with path.open("rb") as f:
        while left > 0 and (block := f.read(min(left, 2**20))):
            h.update(block)
            left -= len(block)
    return h.hexdigest()


def file_keys(file: RecordFile) -> str:
    """Return the digest of all that a study says of one record file."""
    keys = {f.name: plain(getattr(file, f.name)) for f in fields(RecordKeys)}
    return digest_told(keys)


def digest_told(told: Mapping[str, Any]) -> str:
    """Return the digest of what JSON can tell, whatever its order."""
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()


def kind_of(kind: str, file: RecordFile) -> str:
    """Return a kind of kept result for one file: of one kind few are kept, and files are many."""
    return f"{kind}-{hashlib.sha256(file.file.encode()).hexdigest()[:12]}"


def settings_stand(settings: Settings, told: Mapping[str, Any]) -> bool:
    """Return whether settings have the values that `told_settings` told of them."""
    return bool(told == told_settings(settings, told))


def told_settings(settings: Settings, keys: Iterable[str]) -> dict[str, Any]:
    """Return the values of some settings, by ``table.key``, as JSON has them."""
    out = {}
    for path in sorted(keys):
        table, _, key = path.partition(".")
        out[path] = plain(getattr(getattr(settings, table), key))
    told: dict[str, Any] = json.loads(json.dumps(out))
    return told


def hold_rows(reader: ChunkReader, tally: Tally, marks: Marks) -> dict[str, Any]:
    """Return what rows gave, as plain collections: all that they added up, nothing of the study."""
    own = {f.name: getattr(reader, f.name) for f in fields(reader)
           if f.name not in (*BESIDE, *TAKEN_APART)}  # fmt: skip
    t, ledger = reader.tallies, reader.trouble
    return {
        "reader": own,
        "tallies": {n: getattr(t, n) for n in ("counts", "shown", "reasons")},
        "trouble": {n: getattr(ledger, n) for n in ("hints", "placed", "aside", "plain", "shown")},
        "clerk": {
            n: getattr(ledger.clerk, n)
            for n in ("aside_at", "told_at", "by_origin", "seen_h", "oldest_h")
        },
        "words": None if reader.words is None else reader.words.counts,
        "tally": {f.name: getattr(tally, f.name) for f in fields(tally)},
        "marks": marks,
    }


def restore_rows(held: dict[str, Any], reader: ChunkReader, tally: Tally, marks: Marks) -> None:
    """Bring a reader, a tally and marks, all at their beginning, to where `hold_rows` held them."""
    for part, at in (
        ("reader", reader), ("tallies", reader.tallies), ("trouble", reader.trouble),
        ("clerk", reader.trouble.clerk), ("tally", tally),
    ):  # fmt: skip
        for name, told in held[part].items():
            setattr(at, name, told)
    if reader.words is not None:
        reader.words.counts = held["words"]
    marks.clear()
    marks.extend(held["marks"])
