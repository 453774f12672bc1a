"""Lists and records in the cells of a Parquet file, read by chunks: told by row, never a fault.

Found by `tests/tools/fuzz.py`: the library numbers no lists, and said so.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from fleetstats.core.errors import RecordError
from fleetstats.spells.bulk.bulk import build_bulk
from fleetstats.study.study import read_study
from fleetstats.tables.chunks import read_parquet_chunks

STUDY = """\
[study]
title = "Lists"
analysis_date = 2026-01-31
claimed_interval_h = 500
[merge]
returns = false
[treat]
hours-unreadable = "set-aside"
[[records]]
file = "lives.parquet"
"""


def write(folder: Path, **columns: Any) -> Path:
    (folder / "study.toml").write_text(STUDY, "utf-8")
    plain = {"engine": [f"E{i}" for i in range(4)], "exit_hours": ["400", "500", "600", "700"],
             "ending": ["running"] * 4}  # fmt: skip
    pq.write_table(pa.table(plain | columns), folder / "lives.parquet")
    return folder


@pytest.mark.parametrize(
    "cells",
    [[["a"], ["a"], None, []], [{"x": 1}, {"x": 1}, None, {"x": 2}]],
    ids=["list", "record"],
)
def test_cells_of_lists_are_numbered_with_what_they_hold(tmp_path: Path, cells: list[Any]) -> None:
    (chunk,) = read_parquet_chunks(write(tmp_path, note=cells) / "lives.parquet", "lives.parquet")
    coded = chunk.coded(3)
    assert coded.codes.tolist() == [0, 0, 1, 2]
    assert coded.cells[1] is None
    assert coded.cells[0].why == "A list of values stands"


def test_hours_that_are_lists_set_their_rows_aside(tmp_path: Path) -> None:
    hours = pa.array([["400"], None, ["600"], ["700"]])
    with pytest.raises(RecordError):
        build_bulk(read_study(write(tmp_path, exit_hours=hours)))


def test_a_column_of_lists_beside_the_hours_takes_no_row(tmp_path: Path) -> None:
    bulk = build_bulk(read_study(write(tmp_path, more=[["a"], ["b"], None, []])))
    assert (bulk.n_read, bulk.n_used) == (4, 4)


@pytest.mark.parametrize("column", ["note", "cause", "source", "build", "last_reading_date"])
def test_a_column_of_lists_that_we_read_is_no_fault(tmp_path: Path, column: str) -> None:
    folder = write(tmp_path, **{column: [["a"], ["b"], None, []]})
    try:
        bulk = build_bulk(read_study(folder))
    except RecordError:  # findings of the cells stop it, as of any that cannot be read
        return
    assert bulk.n_read == bulk.n_used + bulk.n_set_aside == 4
