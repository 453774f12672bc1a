"""The mends of a table that is read by chunks: mended rows leave the columns and are read alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fleetstats.records.mends.apply import TableMends
from fleetstats.tables.chunks import Chunk, OtherRow
from fleetstats.tables.table import TableError


def mend_chunks(chunks: Iterator[Chunk], clerk: TableMends | None) -> Iterator[Chunk]:
    """Yield the chunks of a table with its mends in them.

    Parameters
    ----------
    chunks : iterator of Chunk
        As supplied.
    clerk : TableMends or None
        The table's mends; None where it has none.

    Raises
    ------
    TableError
        If a mend does not fit the table, when its row has come by; else at the end.
    """
    if clerk is None:
        yield from chunks
        return
    wanted = np.array(sorted(clerk.by_row), dtype=np.int64)
    for chunk in chunks:
        yield _mended(chunk, clerk, wanted)
        _refuse(clerk)
    clerk.close()
    _refuse(clerk)


def _mended(chunk: Chunk, clerk: TableMends, wanted: np.ndarray) -> Chunk:
    out = np.isin(chunk.lines, wanted)
    others = {o.row.row: o for o in chunk.others}
    touched = [o.row for n, o in others.items() if n in clerk.by_row]
    raws = [*chunk.raw_rows(np.flatnonzero(out).tolist()), *touched]
    for raw in raws:
        clerk.take(raw)
    _refuse(clerk)
    if not raws:
        return chunk
    for raw in raws:
        known = others.get(raw.row, OtherRow(row=raw))
        others[raw.row] = replace(known, row=clerk.after[raw.row])
    return chunk.without(out, tuple(others.values()))


def _refuse(clerk: TableMends) -> None:
    if clerk.findings:
        raise TableError(clerk.findings[0])
