"""Chunks of a table hold the very rows of the ordinary reader, line by line."""

from __future__ import annotations

import datetime as dt
import itertools
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from fleetstats.tables import csv_chunks
from fleetstats.tables.chunks import Chunk, read_parquet_chunks
from fleetstats.tables.csv_chunks import open_text
from fleetstats.tables.csv_table import read_csv
from fleetstats.tables.parquet_table import read_parquet
from fleetstats.tables.table import RawRow, TableError

CELL = st.sampled_from(
    ["", "a", "12.5", "E-1", '"q"', '"a,b"', '"say ""x"""', '"two\nlines"', '5"', 'x"y', " ",
     '""', "Ä", "\x07", "'", '" "']
)  # fmt: skip
LINE = st.lists(CELL, min_size=0, max_size=5).map(",".join)
TEXT = st.lists(LINE, max_size=14)


def rows_of(chunks: list[Chunk]) -> list[tuple[RawRow, int, int]]:
    """Every row with its marks, in the order of lines."""
    out = []
    for c in chunks:
        out += [(r, 0, 0) for r in c.raw_rows(range(c.n))]
        out += [(o.row, o.short, o.long) for o in c.others]
    return sorted(out, key=lambda x: x[0].row)


@settings(max_examples=400, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(
    lines=TEXT,
    ends=st.sampled_from(["\n", "\r\n", "\r"]),
    block=st.integers(5, 200),
    last=st.booleans(),
    bom=st.booleans(),
)
def test_text_by_blocks_is_text_read_whole(
    tmp_path: Path, lines: list[str], ends: str, block: int, last: bool, bom: bool
) -> None:
    body = ends.join(["id,h,end,", *lines]) + (ends if last else "")
    path = tmp_path / "x.csv"
    path.write_bytes((b"\xef\xbb\xbf" if bom else b"") + body.encode())
    try:
        whole = read_csv(path, "x.csv")
    except TableError:
        whole = None
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(csv_chunks, "BLOCK", block)
        refused = ""
        try:
            table = open_text(path, "x.csv")
            chunks = list(table.chunks)
        except TableError as e:
            refused = e.finding.message
    if refused or whole is None:
        # a lone mark within a cell is refused where the ordinary reader can see it all
        assert refused
        assert whole is None or "uotation mark" in refused
        return
    assert table.header == whole.header
    assert table.delimiter == whole.delimiter
    got = rows_of(chunks)
    assert [r for r, _, _ in got] == list(whole.rows)
    assert {r.row: s for r, s, _ in got if s} == whole.short
    assert {r.row: n for r, _, n in got if n} == whole.long
    assert sum(c.n_blank for c in chunks) == whole.n_blank


@pytest.mark.parametrize("encoding", ["utf-16", "cp1252", "utf-8-sig"])
def test_other_encodings_are_read_when_stated(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "x.csv"
    path.write_bytes("id;h\nÄ1;100\nÖ2;200\n".encode(encoding))
    stated = "" if encoding.startswith("utf") else encoding
    got = rows_of(list(open_text(path, "x.csv", encoding=stated).chunks))
    assert [r.cells for r, _, _ in got] == [("Ä1", "100"), ("Ö2", "200")]


def test_text_that_is_not_utf8_is_told_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_bytes(b"id,h\nE1,100\n\xc41,200\n")
    with pytest.raises(TableError) as e:
        list(open_text(path, "x.csv").chunks)
    assert e.value.finding.row == 3
    assert "encoding = 'cp1252'" in e.value.finding.advice


def test_a_mark_left_open_is_told_and_does_not_eat_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(csv_chunks, "BLOCK", 1000)
    path = tmp_path / "x.csv"
    path.write_text('id,h\nE0,1\n"E1,100\n' + "E2,200\n" * 3000)
    with pytest.raises(TableError, match="uotation mark"):
        list(open_text(path, "x.csv").chunks)


def test_parquet_by_batches_is_parquet_read_whole(tmp_path: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    table = pa.table(
        {
            "id": pa.array(["E1", None, "", "E4", "E5"]),
            "h": pa.array([1.5, None, float("nan"), 4.0, float("inf")]),
            "n": pa.array([1, None, None, 2, 3], pa.int32()),
            "d": pa.array([dt.date(2024, 1, 1), None, None, None, dt.date(2025, 1, 1)]),
            "w": pa.array(["a", None, None, "b", "a"]).dictionary_encode(),
            "b": pa.array([b"x", None, None, b"y", b"z"]),
        }
    )
    path = tmp_path / "x.parquet"
    pq.write_table(table, path)
    whole = read_parquet(path, "x.parquet")
    chunks = list(read_parquet_chunks(path, "x.parquet", 2))
    assert [r for r, _, _ in rows_of(chunks)] == list(whole.rows)
    assert sum(c.n_blank for c in chunks) == whole.n_blank == 2
    assert [c.n for c in chunks] == [1, 1, 1]


def _chunk(tmp_path: Path, text: str) -> Chunk:
    path = tmp_path / "x.csv"
    path.write_text(text)
    return next(open_text(path, "x.csv").chunks)


def test_plain_numbers_are_read_and_the_rest_is_left(tmp_path: Path) -> None:
    c = _chunk(tmp_path, "h,x\n12.5,a\n,a\n7,a\n1e3,a\n-3,a\nsoon,a\n3.,a\n")
    got: Any = c.numbers(0, ".")
    np.testing.assert_array_equal(got.values, [12.5, np.nan, 7.0, np.nan, np.nan, np.nan, 3.0])
    np.testing.assert_array_equal(got.odd, [0, 0, 0, 1, 1, 1, 0])
    comma: Any = _chunk(tmp_path, "h;x\n12,5;a\n1.234;a\n").numbers(0, ",")
    np.testing.assert_array_equal(comma.values, [12.5, np.nan])
    np.testing.assert_array_equal(comma.odd, [False, True])
    assert c.numbers(0, "mixed") is None


def test_plain_ids_are_those_that_raise_no_question(tmp_path: Path) -> None:
    ids = ["E-1", "ex-ample", "n/a", "Ä1", "EXAMPLE2", "x" * 81, "unknown", "#1", "e 2", "None"]
    c = _chunk(tmp_path, "id,x\n" + "".join(f"{i},a\n" for i in ids))
    plain, data, offsets = c.plain_ids(0)
    shown = [bytes(data[a:b]).decode() for a, b in itertools.pairwise(offsets)]
    assert shown == ["E-1", "", "", "", "", "", "", "", "e 2", ""]
    assert plain.tolist() == [s != "" for s in shown]


INCHES = st.sampled_from(
    ['12"', 'a 12" prop', '"two\nlines"', '"say ""x"", y"', "plain", "", '"a\n12"" b\nc"', '14"']
)


@settings(max_examples=150, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(
    notes=st.lists(st.tuples(INCHES, INCHES), min_size=1, max_size=40),
    head=st.sampled_from([40, 100, 1000]),
    block=st.sampled_from([200, 500]),
)
@example(notes=[('14"', "x"), ('"two\nlines"', 'a 12" prop'), ('"a\n12"" b\nc"', '12"')] * 5,
         head=40, block=200)  # fmt: skip
def test_inches_beside_notes_of_many_lines_are_read_by_blocks_as_whole(
    tmp_path: Path, notes: list[tuple[str, str]], head: int, block: int
) -> None:
    path = tmp_path / "x.csv"
    rows = "".join(f"E{i},{i}.5,{a},{b}\n" for i, (a, b) in enumerate(notes))
    path.write_text("id,h,note,more\n" + rows)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(csv_chunks, "BLOCK", block)
        patch.setattr(csv_chunks, "HEAD", head)
        got = rows_of(list(open_text(path, "x.csv").chunks))
    assert [r for r, _, _ in got] == list(read_csv(path, "x.csv").rows)


def test_a_cell_that_is_too_long_is_refused_by_blocks_as_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Past the head, where whole columns are read at once."""
    monkeypatch.setattr(csv_chunks, "HEAD", 100)
    path = tmp_path / "x.csv"
    body = "id,h,note\n" + "E0,1,\n" * 50
    for n, refused in ((131_072, False), (131_073, True)):
        path.write_text(body + f"E1,2,{'x' * n}\n")
        said = []
        for read in (read_csv, lambda *a: list(open_text(*a).chunks)):
            try:
                read(path, "x.csv")
            except TableError as e:
                said.append(e.finding.message)
        assert len(said) == (2 if refused else 0)
        assert len(set(said)) <= 1
