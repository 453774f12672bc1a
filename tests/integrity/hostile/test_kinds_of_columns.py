"""Each kind of Parquet column is read by chunks as it is read whole, or refused as it is there."""

from __future__ import annotations

import decimal
from pathlib import Path
from typing import Any

import pytest

from fleetstats.tables.chunks import read_parquet_chunks
from fleetstats.tables.parquet_table import read_parquet
from fleetstats.tables.table import TableError


def kinds() -> dict[str, Any]:
    import pyarrow as pa

    inner = pa.array(["a", "b"]).dictionary_encode()
    return {
        "struct": pa.array([{"h": 1}, None]),
        "struct of a dictionary": pa.StructArray.from_arrays([inner], ["x"]),
        "list": pa.array([[1], None]),
        "map": pa.array([[("a", 1)], None], pa.map_(pa.string(), pa.int64())),
        "view": pa.array(["12", None]).cast(pa.string_view()),
        "bytes": pa.array([b"12", b"\xff"]),
        "fixed bytes": pa.array([b"abcd", None], pa.binary(4)),
        "decimal": pa.array([decimal.Decimal("12.5"), None]),
        "duration": pa.array([5, None], pa.duration("s")),
        "time": pa.array([5, None], pa.time32("s")),
        "zone": pa.array([5, None], pa.timestamp("us", tz="Europe/Vienna")),
        "offset": pa.array([5, None], pa.timestamp("us", tz="+05:30")),
        "no zone": pa.array([5, None], pa.timestamp("us", tz="Mars/Phobos")),
        "far time": pa.array([2**62, None], pa.timestamp("us")),
        "far day": pa.array([2**30, None], pa.date32()),
        "large": pa.array([2**64 - 1, None], pa.uint64()),
        "nothing": pa.nulls(2),
    }


@pytest.mark.parametrize("kind", kinds())
def test_a_column_is_read_one_way(kind: str, tmp_path: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    path = tmp_path / "a.parquet"
    pq.write_table(pa.table({"engine": ["A", "B"], "odd": kinds()[kind]}), path)
    told: list[Any] = []
    try:
        told.append([row.cells[1] for row in read_parquet(path, "a.parquet").rows])
    except TableError as e:
        told.append(str(e.finding))
    try:
        (chunk,) = read_parquet_chunks(path, "a.parquet")
        coded = chunk.coded(1)
        told.append([coded.cells[i] for i in coded.codes])
    except TableError as e:
        told.append(str(e.finding))
    assert told[0] == told[1]
