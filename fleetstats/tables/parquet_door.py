"""A Parquet file opened so that its cost is known before it is paid.

A dictionary of one long text and a run of numbers may stand for gigabytes in a few kilobytes. So
sizes are first taken from the file's own metadata; texts are then read as a dictionary and numbers,
which takes no more than the file states, and their full length is counted before it is written out.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from fleetstats.core.limits import above
from fleetstats.tables.table import TableError
from fleetstats.vocabulary.finding import make_finding

FEW_BYTES = 256 * 2**20
MOST_AT_ONCE = 65_536
CURE = "Write it again with plain columns, or save it as CSV."


@contextmanager
def open_parquet(path: Path, name: str, *, whole: bool) -> Iterator[Any]:
    """Open a Parquet file whose metadata keep the limits; its texts are read as dictionaries.

    Parameters
    ----------
    path, name : Path, str
        The file, and its name in messages.
    whole : bool
        Whether it is read at once, or by chunks of rows.

    Raises
    ------
    TableError
        If its metadata contradict themselves or pass a limit.
    """
    import pyarrow.parquet as pq

    with pq.ParquetFile(path) as f:
        texts = _check_columns(f, name, path.stat().st_size, whole=whole)
    with pq.ParquetFile(path, read_dictionary=texts) as f:
        yield f


def _check_columns(f: Any, name: str, size: int, *, whole: bool) -> list[str]:
    """Check what the metadata state; return the columns of texts."""
    metadata = f.metadata
    groups = [metadata.row_group(i) for i in range(metadata.num_row_groups)]
    rows = [g.num_rows for g in groups]
    if metadata.num_rows != sum(rows) or min(rows, default=0) < 0:
        raise _contradicts(name, "its numbers of rows")
    if not whole:
        _keep(name, metadata.num_rows, "chunked_rows", "The file states")
    flat = {x.name for x in f.schema_arrow if not _is_nested(x.type)}
    sizes = [0]
    texts: list[str] = []
    prefixed: list[str] = []
    for i in range(metadata.num_columns):
        column = f.schema.column(i)
        chunks = [g.column(i) for g in groups]
        if any(c.total_uncompressed_size < 0 or c.num_values < 0 for c in chunks):
            raise _contradicts(name, "its sizes")
        if sum(c.total_compressed_size for c in chunks) > size:
            raise _contradicts(name, "its sizes")
        if column.path in flat:
            if [c.num_values for c in chunks] != rows:
                raise _contradicts(name, "its numbers of values")
        else:
            _keep(name, sum(c.num_values for c in chunks), "cells",
                  f"The lists in the column '{column.path[:80]}' hold")  # fmt: skip
        if column.physical_type == "BYTE_ARRAY" and column.path in flat:
            (prefixed if _prefixed(chunks) else texts).append(column.path)
        else:
            longest = _longest(column, chunks, whole=whole)
            _keep(name, longest, "parquet_text",
                  f"The column '{column.path[:80]}' may hold")  # fmt: skip
        sizes.append(sum(c.total_uncompressed_size for c in chunks))
    most_bytes = sum(sizes) if whole else max((g.total_byte_size for g in groups), default=0)
    _keep(name, most_bytes, "parquet_bytes", "The file unpacks to")
    for path in prefixed:
        _measure_prefixed(f, path, name, whole=whole)
    return texts


def _measure_prefixed(f: Any, path: str, name: str, *, whole: bool) -> None:
    """Count the texts of a column that stores what they have in common once, a few at a time.

    No text is longer than all that its group of rows stores, so that a few never take much.
    """
    total = 0
    for i in range(f.metadata.num_row_groups):
        total = total if whole else 0
        stored = max(f.metadata.row_group(i).total_byte_size, 1)
        few = min(max(1, FEW_BYTES // stored), MOST_AT_ONCE)
        for batch in f.iter_batches(few, row_groups=[i], columns=[path], use_threads=False):
            total += batch.nbytes
            _keep(name, total, "parquet_text", f"The column '{path[:80]}' has at least")


def _is_nested(kind: Any) -> bool:
    import pyarrow as pa

    return bool(pa.types.is_nested(kind))


def _prefixed(chunks: list[Any]) -> bool:
    """Return whether texts are stored as what they have in common with the one before."""
    return any("DELTA_BYTE_ARRAY" in c.encodings for c in chunks)


def _longest(column: Any, chunks: list[Any], *, whole: bool) -> int:
    """Return the most bytes that texts can have that are not read as dictionaries.

    Each may be as long as all that is stored of its column in that group of rows.
    """
    if column.physical_type == "FIXED_LEN_BYTE_ARRAY":
        found = [c.num_values * column.length for c in chunks]
    elif column.physical_type == "BYTE_ARRAY":
        found = [c.num_values * c.total_uncompressed_size for c in chunks]
    else:
        return 0
    return sum(found) if whole else max(found, default=0)


def written_out(table: Any, name: str) -> Any:
    """Return a table (or batch, as a table) with its dictionaries written out, if that may be.

    Raises
    ------
    TableError
        If the texts would take more than the limit; nothing is written out then.
    """
    import pyarrow as pa

    keep_texts(table, name)
    columns = []
    for column in table.columns:
        kind = column.type
        if pa.types.is_dictionary(kind):
            column = column.cast(plain_kind(kind.value_type))
        elif plain_kind(kind) != kind:
            column = column.cast(plain_kind(kind))
        columns.append(column)
    return pa.Table.from_arrays(columns, names=table.column_names)


def plain_kind(kind: Any) -> Any:
    """Return the kind that texts are computed with, for kinds that only view them."""
    import pyarrow as pa

    if pa.types.is_string_view(kind):
        return pa.string()
    return pa.binary() if pa.types.is_binary_view(kind) else kind


def can_be_told_apart(kind: Any) -> bool:
    """Return whether pyarrow finds the different cells of a column of a kind."""
    import pyarrow as pa

    return not (_is_nested(kind) or isinstance(kind, pa.BaseExtensionType))


def check_times(table: Any, name: str) -> None:
    """Look whether the calendar knows the first and last time of each column, and its zone.

    Raises
    ------
    TableError
        If it does not: what it does not know would else be met once the rows are in use.
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    for i, column in enumerate(table.columns):
        if pa.types.is_timestamp(column.type) or pa.types.is_date(column.type):
            try:
                pc.min_max(column).as_py()
            except (ValueError, OverflowError, LookupError):  # by the library and its version
                what = f"the column '{table.column_names[i]}' has times that no calendar knows"
                raise TableError(
                    make_finding("file-unreadable/parquet", file=name, problem=what)
                ) from None


def keep_texts(table: Any, name: str) -> None:
    """Count the texts of a table's dictionaries with every repetition.

    Raises
    ------
    TableError
        If they have more bytes than the limit.
    """
    total = sum(_bytes_of(chunk) for column in table.columns for chunk in column.chunks)
    _keep(name, total, "parquet_text", "Written out, the texts of the file have")


def _bytes_of(array: Any) -> int:
    import pyarrow as pa
    import pyarrow.compute as pc

    if not pa.types.is_dictionary(array.type):
        return 0
    texts = array.dictionary
    kind = texts.type
    if pa.types.is_string_view(kind) or pa.types.is_binary_view(kind):
        texts = texts.cast(plain_kind(kind))
    elif not (pa.types.is_string(kind) or pa.types.is_large_string(kind)
              or pa.types.is_binary(kind) or pa.types.is_large_binary(kind)):  # fmt: skip
        return 0
    lengths = pc.cast(pc.binary_length(texts), pa.int64())
    return int(pc.sum(lengths.take(array.indices)).as_py() or 0)


def _contradicts(name: str, what: str) -> TableError:
    return TableError(
        make_finding("file-unreadable/parquet", file=name, problem=f"{what} contradict each other")
    )


def _keep(name: str, found: int, limit: str, what: str) -> None:
    if too_much := above(found, limit):
        raise TableError(
            make_finding("file-too-large/limit", file=name, what=what, found=too_much, right=CURE)
        )
