"""A Parquet file to a table. The one door to pyarrow for reading lives row by row."""

from __future__ import annotations

import decimal
from pathlib import Path
from typing import Any

from fleetstats.tables.parquet_door import check_times, keep_texts, open_parquet
from fleetstats.tables.table import (
    MAX_CELLS,
    MAX_COLUMNS,
    MAX_ROWS,
    BadCell,
    RawRow,
    RawTable,
    TableError,
)
from fleetstats.vocabulary.finding import make_finding


def read_parquet(path: Path, name: str) -> RawTable:
    """Read a Parquet file; its rows are numbered from 2, as if a header were line 1.

    Raises
    ------
    TableError
        If it is no Parquet file, or the limits are passed.
    """
    import pyarrow as pa

    try:
        with open_parquet(path, name, whole=True) as f:
            n_rows, n_columns = f.metadata.num_rows, len(f.schema_arrow.names)
            too_many = n_rows > MAX_ROWS or n_columns > MAX_COLUMNS
            if too_many or n_rows * n_columns > MAX_CELLS:
                raise TableError(
                    make_finding(
                        "file-too-large/parquet",
                        file=name,
                        n_rows=n_rows,
                        n_columns=n_columns,
                        most_rows=MAX_ROWS,
                        most_columns=MAX_COLUMNS,
                        most_cells=MAX_CELLS,
                    )
                )
            table = f.read(use_threads=False)
            keep_texts(table, name)
            check_times(table, name)
            header = tuple(str(n) for n in table.column_names)
            columns = [cells_of(c) for c in table.columns]
    except (pa.ArrowException, OSError, ValueError, LookupError, OverflowError, TypeError,
            NotImplementedError) as e:  # fmt: skip
        raise not_parquet(name, e) from None
    rows = []
    blank = 0
    for i, cells in enumerate(zip(*columns, strict=True), start=2):
        row = RawRow(row=i, cells=cells)
        if row.blank:
            blank += 1
        else:
            rows.append(row)
    if not header:
        raise TableError(make_finding("file-unreadable/no-columns", file=name))
    return RawTable(file=name, header=header, rows=tuple(rows), n_blank=blank)


def cells_of(column: Any) -> list[Any]:
    """Return the cells of a pyarrow column; a text that a dictionary repeats is held once."""
    import pyarrow as pa

    if not pa.types.is_dictionary(column.type):
        return [plain_cell(v) for v in column.to_pylist()]
    out: list[Any] = []
    for chunk in column.chunks:
        texts = [plain_cell(v) for v in chunk.dictionary.to_pylist()]
        out += [None if i is None else texts[i] for i in chunk.indices.to_pylist()]
    return out


def plain_cell(value: Any) -> Any:
    """Return a cell as the parsers of cells know it."""
    if isinstance(value, decimal.Decimal):
        return float(value)
    if isinstance(value, bytes):
        return value.decode("utf-8", errors="replace")
    if isinstance(value, list | dict):
        return BadCell(shown=str(value)[:60], why="A list of values stands")
    if isinstance(value, float) and value != value:
        return None
    return value


def not_parquet(name: str, error: Exception) -> TableError:
    """Return the error on a file that the library cannot read as Parquet."""
    return TableError(
        make_finding("file-unreadable/parquet", file=name, problem=type(error).__name__)
    )
