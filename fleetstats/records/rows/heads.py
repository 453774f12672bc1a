"""The heads of several files that are one table: they must be alike."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fleetstats.core.errors import ReadError
from fleetstats.study.study import RecordFile
from fleetstats.tables.chunks import Chunk, TextPlace, read_parquet_chunks
from fleetstats.tables.csv_chunks import open_text
from fleetstats.tables.open_table import PARQUETS, TEXTS, open_table
from fleetstats.tables.table import RawTable, TableError
from fleetstats.vocabulary.slugs import suffix_of
from fleetstats.vocabulary.wording import listed

MOST_NAMED = 6
"""Columns that a message names."""


def check_heads(files: Sequence[RecordFile]) -> None:
    """Compare the heads of the files that one pattern of a study names.

    A file that cannot be opened is passed over; its reader says what is wrong with it.

    Parameters
    ----------
    files : sequence of RecordFile
        Those of several patterns, and of none, may be among them.

    Raises
    ------
    ReadError
        If two files of one pattern have other columns, or the same in another order.
    """
    first: dict[str, tuple[RecordFile, tuple[str, ...]]] = {}
    for file in files:
        head = _head(file) if file.pattern else ()
        if not head:
            continue
        known, names = first.setdefault(file.pattern, (file, head))
        if head != names:
            raise ReadError(
                f"'{file.file}' and '{known.file}' are files of one table, '{file.pattern}', and "
                f"their heads differ: {_differ(head, names)}.",
                "Give all files of a table the same columns in the same order, or name each in a "
                "[[records]] of its own.",
            )


def _differ(head: tuple[str, ...], names: tuple[str, ...]) -> str:
    more, fewer = ([repr(x) for x in a if x not in b] for a, b in ((head, names), (names, head)))
    said = [
        f"{what} {listed([*x[:MOST_NAMED], *(['others'] if len(x) > MOST_NAMED else [])])}"
        for what, x in (("the first alone has", more), ("the second alone has", fewer))
        if x
    ]
    return "; ".join(said) or "the same columns stand in another order"


def _head(file: RecordFile) -> tuple[str, ...]:
    try:
        if suffix_of(file.file) in (*TEXTS, *PARQUETS):
            return open_chunks(file)[0].header
        return open_table(file).header
    except (TableError, OSError):
        return ()


def open_chunks(
    file: RecordFile, after: TextPlace | None = None
) -> tuple[RawTable, Iterator[Chunk]]:
    """Return the head of a CSV or Parquet file as a table without rows, and its chunks.

    After a place in a text, the chunks below it alone.

    Raises
    ------
    TableError
        If it cannot be read; also while its chunks are read.
    """
    if suffix_of(file.file) in PARQUETS:
        chunks = read_parquet_chunks(file.path, file.file)
        first = next(chunks)

        def all_chunks() -> Iterator[Chunk]:
            yield first
            yield from chunks

        return RawTable(file=file.file, header=first.header, rows=()), all_chunks()
    text = open_text(
        file.path, file.file, encoding=file.encoding, delimiter=file.delimiter,
        header_row=file.header_row, after=after,
    )  # fmt: skip
    head = RawTable(
        file=file.file, header=text.header, header_row=text.header_line, rows=(),
        delimiter=text.delimiter,
    )  # fmt: skip
    return head, text.chunks
