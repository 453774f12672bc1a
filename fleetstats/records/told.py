"""In which words the rows of a file tell of their end, as written: counted before any map is used.

What a map changed can be seen only beside what stands in the file, so the different combinations of
words are counted, and what each would mean without the maps is asked of the same rules.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from fleetstats.core.value import Value, value
from fleetstats.study.leaves import MAPS
from fleetstats.study.study import RecordFile
from fleetstats.tables.cells import CellError, parse_flag, text
from fleetstats.tables.coded import Coded, code_cells
from fleetstats.tables.columns import field_words, match_columns
from fleetstats.tables.memo import Memo
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.fields.headers import meaning_of, plain_name
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.fold import fold

FLAGS = ("confirmed", "found_at_teardown")

Words = tuple[str, str]
"""Ending (of a log: the kind of event) and cause, as written; blank where nothing is."""

MOST_CODES = 2**62
"""Combinations of words that whole numbers can tell apart."""


@value
class ToldRows(Value):
    """Rows of a file that tell of their end in the same words.

    Parameters
    ----------
    ending, cause, source, build : str
        As written; `ending` is the kind of event where the file is a log.
    confirmed, found_at_teardown : bool or None
        As read; None where it is not said.
    hidden : tuple of (str, str)
        Our name of a column with what stands in the column that a map keeps from being read as it.
    n : int
        Rows.
    """

    ending: str
    cause: str
    confirmed: bool | None
    found_at_teardown: bool | None
    source: str
    build: str
    n: int
    hidden: tuple[tuple[str, str], ...] = ()


@value
class ToldFile(Value):
    """The words of one record file.

    `hidden` names columns that a map keeps from being read: our name, and the file's own header.
    """

    file: str
    sheet: str
    rows: tuple[ToldRows, ...]
    hidden: tuple[tuple[str, str], ...] = ()


@dataclass(slots=True)
class WordCount:
    """Counts the words of a file, chunk after chunk."""

    file: RecordFile
    header: tuple[str, ...]
    index: dict[str, int]
    counts: Counter[tuple[Any, ...]] = field(default_factory=Counter)
    names: tuple[str, ...] = field(init=False)
    hidden: tuple[tuple[str, int], ...] = field(init=False)

    def __post_init__(self) -> None:
        end = "kind" if self.file.shape == "log" else "ending"
        self.names = (end, "cause", *FLAGS, "source", "build")
        self.hidden = _hidden(self.file, self.header, self.index, self.names[:4])

    @property
    def places(self) -> list[int | None]:
        """Return where the columns stand, those that are hidden last."""
        return [*(self.index.get(n) for n in self.names), *(at for _, at in self.hidden)]

    def add_columns(self, coded: Callable[[int], Coded], n: int) -> None:
        """Add n rows by columns."""
        found, size = np.zeros(n, dtype=np.int64), 1
        columns = [None if at is None else coded(at) for at in self.places]
        for column in columns:
            if column is None or not n:
                continue
            if size * len(column.cells) > MOST_CODES:
                known, found = np.unique(found, return_inverse=True)
                found, size = found.ravel(), len(known)
            found = found * len(column.cells) + column.codes
            size *= len(column.cells)
        first, times = np.unique(found, return_index=True, return_counts=True)[1:]
        for row, k in zip(first.tolist(), times.tolist(), strict=True):
            told = (None if c is None else c.cells[int(c.codes[row])] for c in columns)
            self.counts[tuple(told)] += k

    def add_rows(self, rows: Iterable[tuple[Any, ...]]) -> None:
        """Add rows, each with its cells."""
        places = self.places
        for cells in rows:
            self.counts[tuple(None if at is None else cells[at] for at in places)] += 1

    def told(self, sheet: str = "") -> ToldFile:
        """Return what was counted, the most frequent first."""
        counts: Counter[tuple[Any, ...]] = Counter()
        for (ending, cause, confirmed, teardown, *texts), n in self.counts.items():
            words = (text(ending), text(cause), _flag(confirmed), _flag(teardown))
            counts[(*words, *map(text, texts))] += n
        alike = sorted(counts.items(), key=lambda kv: (-kv[1], repr(kv[0])))
        rows = (
            ToldRows(
                ending=ending, cause=cause, confirmed=confirmed, found_at_teardown=teardown,
                source=source or self.file.source, build=build, n=n,
                hidden=tuple((ours, x) for (ours, _), x in zip(self.hidden, more, strict=True)),
            )
            for (ending, cause, confirmed, teardown, source, build, *more), n in alike
        )  # fmt: skip
        return ToldFile(
            file=self.file.file,
            sheet=sheet,
            rows=tuple(rows),
            hidden=tuple((ours, self.header[at]) for ours, at in self.hidden),
        )


def count_words(table: RawTable, file: RecordFile, index: dict[str, int]) -> ToldFile:
    """Return in which words the rows of a table tell of their end."""
    words = WordCount(file, table.header, index)
    words.add_columns(lambda at: code_cells(r.cells[at] for r in table.rows), len(table.rows))
    return words.told(table.sheet)


def words_written(table: RawTable, file: RecordFile) -> dict[int, Words]:
    """Return the words of each row of a table by its number in the file; shared where alike."""
    fields = LOG_FIELDS if file.shape == "log" else LIFE_FIELDS
    index = match_columns(table, fields, file.columns).index
    places = [index.get("kind" if file.shape == "log" else "ending"), index.get("cause")]
    known: dict[Words, Words] = {}
    none = itertools.repeat("")
    read = Memo(text)
    ends, causes = (
        none if at is None else read.each([r.cells[at] for r in table.rows]) for at in places
    )
    told = zip(table.rows, ends, causes, strict=False)
    return {r.row: known.setdefault((end, cause), (end, cause)) for r, end, cause in told}


def maps_met(row: ToldRows | Words, file: RecordFile) -> list[str]:
    """Return the entries of a file's maps that the words of a row meet: ``endings.failed``."""
    end = "endings" if file.shape == "lives" else "kinds"
    ending, cause = row if isinstance(row, tuple) else (row.ending, row.cause)
    maps: Mapping[str, Mapping[str, str]] = {
        table: {fold(w): w for w in getattr(file, table)} for table in (end, "causes")
    }
    used = ((end, meaning_of(ending, maps[end])), ("causes", maps["causes"].get(fold(cause))))
    return [f"{table}.{word}" for table, word in used if word is not None]


def has_maps(file: RecordFile) -> bool:
    """Return whether a file's description has any map of its words or columns."""
    return any(getattr(file, name) for name in MAPS)


def _hidden(
    file: RecordFile, header: tuple[str, ...], index: dict[str, int], names: tuple[str, ...]
) -> tuple[tuple[str, int], ...]:
    """Return columns that would be read but for a map: our name, and where they stand."""
    if not file.columns:
        return ()
    words = field_words(LOG_FIELDS if file.shape == "log" else LIFE_FIELDS)
    own = ((words.get(plain_name(h)), at) for at, h in enumerate(header))
    return tuple((n, at) for n, at in own if n in names and index.get(n) != at)


def _flag(cell: Any) -> bool | None:
    try:
        return parse_flag(cell)
    except CellError:
        return None
