"""Values between pyarrow and numpy by their bytes, held against pyarrow's own ways of turning them.

Those are asked here alone: they import pandas, which reading must not.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pytest

from fleetstats.tables.arrow.plain_values import (
    arrow_of,
    bools_of,
    count_value,
    floats_of,
    numbers_of,
    text_value,
    truth_value,
)

CUTS = ((0, 0), (0, 21), (1, 9), (3, 18), (8, 16), (20, 21))
TRUTHS = [i % 3 == 0 or i > 17 for i in range(21)]


@pytest.mark.parametrize("text", ["", "x", "Zürich", "a" * 300])
def test_a_text_is_the_scalar_that_pyarrow_makes_of_it(text: str) -> None:
    """`pa.scalar`."""
    assert text_value(text) == pa.scalar(text)


def test_numbers_and_truths_are_the_scalars_that_pyarrow_makes_of_them() -> None:
    """`pa.scalar`."""
    assert count_value(70_000) == pa.scalar(70_000, pa.int32())
    assert truth_value(truth=True) == pa.scalar(True)
    assert truth_value(truth=False) == pa.scalar(False)


@pytest.mark.parametrize("cut", CUTS)
def test_truths_come_and_go_as_pyarrow_turns_them_wherever_a_part_of_them_begins(
    cut: tuple[int, int],
) -> None:
    """`pa.array` and `to_pylist`, of slices that begin within a byte too."""
    theirs = pa.array(TRUTHS)
    assert arrow_of(np.array(TRUTHS)) == theirs
    part = theirs.slice(cut[0], cut[1] - cut[0])
    assert bools_of(part).tolist() == part.to_pylist()
    pieces = pa.chunked_array([part, theirs], pa.bool_())
    assert bools_of(pieces).tolist() == pieces.to_pylist()


@pytest.mark.parametrize("cut", CUTS)
def test_numbers_come_as_pyarrow_turns_them_and_nulls_as_told(cut: tuple[int, int]) -> None:
    """`to_pylist` of slices of columns with nulls and of those of places without."""
    told = [None if i % 4 == 1 else 0.1 * i for i in range(21)]
    part = pa.array(told, pa.float64()).slice(cut[0], cut[1] - cut[0])
    expected = [np.nan if v is None else v for v in part.to_pylist()]
    np.testing.assert_array_equal(floats_of(part), np.array(expected, dtype=float))
    whole = [None if v is None else round(10 * v) for v in told]
    ints = pa.array(whole, pa.int32()).slice(cut[0], cut[1] - cut[0])
    assert numbers_of(ints, 99).tolist() == [99 if v is None else v for v in ints.to_pylist()]
    assert arrow_of(np.array([4, 0, 2])) == pa.array([4, 0, 2], pa.int64())


def test_a_column_of_no_rows_is_none_of_any_kind() -> None:
    """No rows of any column."""
    assert bools_of(pa.chunked_array([], pa.bool_())).tolist() == []
    assert floats_of(pa.nulls(0, pa.float64())).tolist() == []
    assert numbers_of(pa.nulls(0, pa.int32()), 1).tolist() == []
    assert floats_of(pc.cast(pa.nulls(3), pa.float64())).tolist() != [0.0, 0.0, 0.0]


def test_a_table_read_by_chunks_asks_no_other_library(tmp_path: Path) -> None:
    """What is imported is held against what a process of its own has imported in the end."""
    rows = "".join(f"E{i},{i % 7}.5,{'failed' if i % 5 == 0 else 'running'}\n" for i in range(99))
    (tmp_path / "t.csv").write_text("engine,exit_hours,ending\n" + rows, "utf-8")
    (tmp_path / "study.toml").write_text(
        '[study]\ntitle = "T"\nanalysis_date = 2026-02-01\n[merge]\nreturns = false\n'
        '[[records]]\nfile = "t.csv"\n',
        "utf-8",
    )
    code = (
        "import sys; import fleetstats as fs; from fleetstats.spells.bulk.bulk import build_bulk;"
        f"bulk = build_bulk(fs.read_study({str(tmp_path)!r}));"
        "print(bulk.n_used, 'pandas' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["99", "False"]
