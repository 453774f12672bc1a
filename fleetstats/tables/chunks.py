"""A large table in chunks of columns: what they hold, and Parquet by batches of rows.

The door to pyarrow for tables of any length; CSV by blocks of lines is `csv_chunks`. A chunk gives
its columns as different cells and their numbers (or as numbers outright), names the line of each
row, and hands out single rows as the row reader knows them; no pyarrow object leaves it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from fleetstats.core.value import Array
from fleetstats.tables.arrow.plain_values import (
    arrow_of,
    bools_of,
    count_value,
    floats_of,
    numbers_of,
    text_value,
    truth_value,
)
from fleetstats.tables.coded import Coded, Numbers
from fleetstats.tables.parquet_door import (
    can_be_told_apart,
    check_times,
    open_parquet,
    written_out,
)
from fleetstats.tables.parquet_table import not_parquet, plain_cell
from fleetstats.tables.table import MAX_COLUMNS, MAX_TEXT, RawRow, TableError
from fleetstats.vocabulary.finding import make_finding
from fleetstats.vocabulary.unknown import pattern_of_nothing

BATCH_ROWS = 500_000
"""Rows of a Parquet chunk."""

PLAIN_ID = r"^[A-Za-z0-9][A-Za-z0-9 ./_#:\-]{0,79}$"
EXAMPLE = r"(?i)^e[^a-z0-9]*x[^a-z0-9]*a[^a-z0-9]*m[^a-z0-9]*p[^a-z0-9]*l[^a-z0-9]*e"
NOT_IDS = pattern_of_nothing()
"""What an engine's cell may hold that is no id, as `cells.is_blank` has it."""

PLAIN_NUMBER = {".": r"^[0-9]+(\.[0-9]*)?$", ",": r"^[0-9]+(,[0-9]*)?$"}


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherRow:
    """A row for the row reader: `n_cells` is what it has where that is too few or too many."""

    row: RawRow
    short: int = 0
    long: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class TextPlace:
    """Where a chunk of a text ends, and the next begins.

    Parameters
    ----------
    offset, line : int
        First byte of the next line in the file, and the number of that line, from 1.
    seen : int
        Bytes of the file that say so: were they others, the chunk might end elsewhere.
    """

    offset: int
    line: int
    seen: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Chunk:
    """Some rows of a table.

    Parameters
    ----------
    n : int
        Rows that the columns hold.
    lines : (n,) int
        Line of each in the file; the header of a Parquet file counts as line 1.
    others : tuple of OtherRow
        Rows that are in no column, since they could not be parted as the rest.
    n_blank : int
        Lines with nothing in them, in no column either.
    end : TextPlace or None
        Where the next chunk begins, if reading can go on there; None after the last.
    """

    n: int
    lines: Array
    others: tuple[OtherRow, ...] = ()
    n_blank: int = 0
    header: tuple[str, ...] = ()
    end: TextPlace | None = None
    _table: Any = field(default=None, repr=False)

    def _array(self, at: int) -> Any:
        import pyarrow as pa

        array = self._table.column(at)
        array = array.combine_chunks() if array.num_chunks != 1 else array.chunk(0)
        return array.dictionary_decode() if pa.types.is_dictionary(array.type) else array

    def coded(self, at: int) -> Coded:
        """Return a column as its different cells and their numbers."""
        array = self._array(at)
        if not can_be_told_apart(array.type):
            return _coded_one_by_one(array.to_pylist())
        array = array.dictionary_encode(null_encoding="encode")
        cells = [plain_cell(v) for v in array.dictionary.to_pylist()]
        codes = numbers_of(array.indices, len(cells))
        if array.indices.null_count:
            cells.append(None)
        return Coded(codes, cells)

    def numbers(self, at: int, decimal: str) -> Numbers | None:
        """Return a column of plain numbers; None where each cell must be parsed by itself.

        Cells that are no plain number are `odd`; blank ones are NaN.
        """
        import pyarrow as pa
        import pyarrow.compute as pc

        array = self._array(at)
        kind = array.type
        if pa.types.is_floating(kind) or pa.types.is_integer(kind):
            values = floats_of(pc.cast(array, pa.float64(), safe=False))
            odd = np.isinf(values)
            return Numbers(np.where(odd, np.nan, values), odd)
        if not _is_text(kind) or decimal not in PLAIN_NUMBER:
            return None
        blank = _told(pc.equal(array, text_value("")), no_value=True)
        plain = _told(pc.match_substring_regex(array, PLAIN_NUMBER[decimal]))
        kept = pc.if_else(plain, array, pa.nulls(1, kind)[0])
        if decimal == ",":
            kept = pc.replace_substring(kept, ",", ".")
        values = floats_of(pc.cast(kept, pa.float64()))
        odd = ~bools_of(plain) & ~bools_of(blank)
        odd |= np.isinf(values)
        return Numbers(np.where(odd, np.nan, values), odd)

    def long_texts(self, at: int) -> Coded:
        """Return, for a column of texts that differ from row to row, only which are too long."""
        import pyarrow.compute as pc

        array = self._array(at)
        if not _is_text(array.type):
            return self.coded(at)
        long = _told(pc.greater(pc.utf8_length(array), count_value(MAX_TEXT)))
        return Coded(bools_of(long).astype(np.int64), ["", "x" * (MAX_TEXT + 1)])

    def matching(self, at: int, pattern: str) -> Array:
        """Return (n,) bool: rows whose text in a column matches an expression of RE2's syntax."""
        import pyarrow.compute as pc

        array = self._array(at)
        if not _is_text(array.type):
            return np.zeros(self.n, dtype=bool)
        return bools_of(_told(pc.match_substring_regex(array, pattern)))

    def filled(self, at: int) -> Array:
        """Return (n,) bool: rows in which a column holds anything."""
        import pyarrow.compute as pc

        array = self._array(at)
        if not _is_text(array.type):
            return bools_of(array.is_valid())
        return bools_of(_told(pc.not_equal(pc.utf8_trim_whitespace(array), text_value(""))))

    def plain_ids(self, at: int) -> tuple[Array, Array, Array]:
        """Return which engine ids raise no question, and the bytes and offsets of all of them.

        Ids that do are empty there.
        """
        import pyarrow as pa
        import pyarrow.compute as pc

        array = self._array(at)
        if not _is_text(array.type):
            none = np.zeros(self.n, dtype=bool)
            return none, np.empty(0, dtype=np.uint8), np.zeros(self.n + 1, dtype=np.int64)
        array = pc.cast(array, pa.large_string())
        plain = pc.match_substring_regex(array, PLAIN_ID)
        no_id = pc.match_substring_regex(array, NOT_IDS)
        example = pc.match_substring_regex(array, EXAMPLE)
        plain = pc.and_not(pc.and_not(plain, no_id), example)
        plain = _told(plain)
        kept = pc.if_else(plain, array, text_value(""))
        _, offsets, data = kept.buffers()
        at_row = np.frombuffer(offsets, dtype=np.int64)[kept.offset : kept.offset + self.n + 1]
        raw = np.frombuffer(data, dtype=np.uint8) if data is not None else np.empty(0, np.uint8)
        return bools_of(plain), raw[: int(at_row[-1])], at_row

    def unlike_ids(self, at: int, pattern: str) -> Array:
        """Return (n,) bool: rows whose cell is no plain id, or has something of a pattern (RE2)."""
        import pyarrow as pa
        import pyarrow.compute as pc

        array = self._array(at)
        if not _is_text(array.type):
            return np.ones(self.n, dtype=bool)
        array = pc.cast(array, pa.large_string())
        plain = pc.match_substring_regex(array, PLAIN_ID)
        plain = pc.and_not(plain, pc.match_substring_regex(array, NOT_IDS))
        plain = pc.and_not(plain, pc.match_substring_regex(array, pattern))
        return ~bools_of(_told(plain))

    def unprintable(self, at: int) -> Array:
        """Return (n,) bool: rows whose text in a column is not all printable characters."""
        import pyarrow.compute as pc

        array = self._array(at)
        if not _is_text(array.type):
            return np.zeros(self.n, dtype=bool)
        return bools_of(pc.invert(_told(pc.utf8_is_printable(array), no_value=True)))

    def without(self, gone: Array, others: tuple[OtherRow, ...]) -> Chunk:
        """Return the chunk with some rows taken out of its columns, and other rows beside them."""
        table = self._table.filter(arrow_of(~gone))
        return Chunk(
            n=table.num_rows, lines=self.lines[~gone], others=others, n_blank=self.n_blank,
            header=self.header, _table=table,
        )  # fmt: skip

    def raw_rows(self, which: Sequence[int]) -> list[RawRow]:
        """Return some rows as the row reader knows them."""
        if not len(which):
            return []
        part = self._table.take(arrow_of(np.asarray(which, dtype=np.int64)))
        columns = [[plain_cell(v) for v in c.to_pylist()] for c in part.columns]
        lines = self.lines[np.asarray(which, dtype=np.int64)].tolist()
        return [
            RawRow(row=n, cells=cells)
            for n, cells in zip(lines, zip(*columns, strict=True), strict=True)
        ]


def _coded_one_by_one(values: list[Any]) -> Coded:
    """Return cells of lists or records, which the library does not number, as `Chunk.coded`."""
    cells: dict[str, Any] = {}
    number: dict[str, int] = {}
    codes = []
    for held in values:
        told = repr(held)
        cells.setdefault(told, plain_cell(held))
        codes.append(number.setdefault(told, len(number)))
    return Coded(np.array(codes, dtype=np.int64), list(cells.values()))


def _told(truths: Any, *, no_value: bool = False) -> Any:
    """Return truths of pyarrow's with one in place of nulls."""
    import pyarrow.compute as pc

    return pc.fill_null(truths, truth_value(truth=no_value))


def _is_text(kind: Any) -> bool:
    import pyarrow as pa

    return bool(pa.types.is_string(kind) or pa.types.is_large_string(kind))


def read_parquet_chunks(path: Path, name: str, rows: int = BATCH_ROWS) -> Iterator[Chunk]:
    """Yield the chunks of a Parquet file.

    Raises
    ------
    TableError
        If it is no Parquet file, or has too many columns.
    """
    import pyarrow as pa

    try:
        with open_parquet(path, name, whole=False) as f:
            header = tuple(str(n) for n in f.schema_arrow.names)
            check_width(header, name)
            line, empty = 2, True
            for batch in f.iter_batches(batch_size=rows, use_threads=False):
                n, empty = batch.num_rows, False
                table = written_out(pa.Table.from_batches([batch]), name)
                check_times(table, name)
                yield chunk_of(table, np.arange(line, line + n), header)
                line += n
            if empty:
                table = written_out(f.schema_arrow.empty_table(), name)
                yield chunk_of(table, np.empty(0, np.int64), header)
    except (pa.ArrowException, OSError, ValueError, LookupError, OverflowError, TypeError,
            NotImplementedError) as e:  # fmt: skip
        raise not_parquet(name, e) from None


def check_width(header: tuple[str, ...], name: str) -> None:
    """Raise TableError where a table has no column, or more than any reader takes."""
    if not 1 <= len(header) <= MAX_COLUMNS:
        raise TableError(
            make_finding(
                "file-unreadable/columns",
                file=name,
                n_columns=len(header),
                most_columns=MAX_COLUMNS,
            )
        )


def chunk_of(
    table: Any, lines: Array, header: tuple[str, ...], others: tuple[OtherRow, ...] = ()
) -> Chunk:
    """Return a chunk of the rows of a pyarrow table that hold anything."""
    import pyarrow as pa
    import pyarrow.compute as pc

    filled = np.zeros(table.num_rows, dtype=bool)
    for column in table.columns:
        if _is_text(column.type):
            some = pc.not_equal(pc.utf8_trim_whitespace(column), text_value(""))
        else:
            some = column.is_valid()
            if pa.types.is_floating(column.type):
                some = pc.and_(some, pc.invert(pc.is_nan(column)))
        filled |= bools_of(_told(some))
    n_blank = int((~filled).sum())
    if n_blank:
        table = table.filter(arrow_of(filled))
    return Chunk(
        n=table.num_rows, lines=lines[filled], others=others, n_blank=n_blank, header=header,
        _table=table,
    )  # fmt: skip
