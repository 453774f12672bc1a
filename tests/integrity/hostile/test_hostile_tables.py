"""Hostile record files: refused in our words by the reader and by the verbs, and quickly."""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from hostile_tables import PARQUETS, TABLES, TEXTS, WORKBOOKS, Hostile, list_bomb, prefix_bomb

from fleetstats.cli import main
from fleetstats.core.limits import LIMITS
from fleetstats.study.study import RecordFile
from fleetstats.tables.chunks import read_parquet_chunks
from fleetstats.tables.open_table import open_table
from fleetstats.tables.parquet_table import read_parquet
from fleetstats.tables.table import TableError
from fleetstats.tables.xlsx_table import read_xlsx

STUDY = """\
[study]
title = "Hostile"
analysis_date = 2026-09-30
[[records]]
file = "{file}"
shape = "lives"
"""


def named(case: Hostile) -> str:
    return f"{case.file}-{case.name}".replace(" ", "-")


@pytest.mark.parametrize("case", TABLES, ids=named)
def test_a_hostile_table_is_refused_in_our_words(case: Hostile, tmp_path: Path) -> None:
    path = tmp_path / case.file
    case.write(path)
    before = sorted(tmp_path.iterdir())
    with pytest.raises(TableError) as e:
        open_table(RecordFile(file=case.file, path=path))
    said = f"{e.value.finding.message} {e.value.finding.advice}"
    assert re.search(case.says, said, re.DOTALL), said
    assert e.value.finding.file == case.file
    assert len(said) < 600
    assert sorted(tmp_path.iterdir()) == before


@pytest.mark.parametrize("case", [TEXTS[0], TEXTS[8], WORKBOOKS[0], PARQUETS[0]], ids=named)
def test_the_verbs_end_with_a_refusal_and_leave_nothing(case: Hostile, tmp_path: Path) -> None:
    (tmp_path / "study").mkdir()
    (tmp_path / "study" / "study.toml").write_text(STUDY.format(file=case.file))
    case.write(tmp_path / "study" / case.file)
    for words in (["check"], ["study", "--out", str(tmp_path / "report")]):
        run = CliRunner().invoke(main, [words[0], str(tmp_path / "study"), *words[1:]])
        assert isinstance(run.exception, SystemExit), run.exception
        assert run.exit_code in (1, 2, 3)
        assert "Traceback" not in run.output
        assert case.file in run.output
    assert not (tmp_path / "report").exists()


def test_texts_stored_by_what_they_have_in_common_are_measured_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    low = replace(LIMITS["parquet_text"], value=2**20)
    path = tmp_path / "a.parquet"
    prefix_bomb(path)
    assert path.stat().st_size < 2**20
    assert len(read_parquet(path, "a.parquet").rows) == 600
    monkeypatch.setitem(LIMITS, "parquet_text", low)
    with pytest.raises(TableError, match=r"has at least .*the limit is 1 MiB"):
        read_parquet(path, "a.parquet")
    with pytest.raises(TableError, match=r"has at least .*the limit is 1 MiB"):
        list(read_parquet_chunks(path, "a.parquet"))


def test_a_long_list_in_one_cell_is_refused_before_it_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    list_bomb(tmp_path / "a.parquet")
    monkeypatch.setitem(LIMITS, "cells", replace(LIMITS["cells"], value=1_000_000))
    with pytest.raises(TableError, match="hold 2,000,000 cells, and the limit is 1,000,000"):
        read_parquet(tmp_path / "a.parquet", "a.parquet")


def test_a_dictionary_is_measured_by_chunks_as_well(tmp_path: Path) -> None:
    PARQUETS[0].write(tmp_path / "a.parquet")
    with pytest.raises(TableError, match=r"7,629\.4 MiB"):
        list(read_parquet_chunks(tmp_path / "a.parquet", "a.parquet"))


def test_kinds_that_only_view_texts_are_read(tmp_path: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    path = tmp_path / "a.parquet"
    table = pa.table({
        "engine": pa.array(["E-1", None, "E-1"], pa.string_view()),
        "note": pa.array(["a", "b", None]).dictionary_encode(),
        "of": pa.array([{"q": "z"}] * 3),
    })  # fmt: skip
    pq.write_table(table, path)
    rows = read_parquet(path, "a.parquet").rows
    assert [r.cells[:2] for r in rows] == [("E-1", "a"), (None, "b"), ("E-1", None)]
    assert "list of values" in rows[0].cells[2].why
    (chunk,) = read_parquet_chunks(path, "a.parquet")
    assert chunk.coded(0).cells == ["E-1", None]


def test_a_hidden_sheet_is_not_what_is_read(tmp_path: Path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    book.active.append(["engine"])
    book.active.append(["seen"])
    other = book.create_sheet("Earlier", 0)
    other.append(["engine"])
    other.append(["hidden"])
    other.sheet_state = "hidden"
    book.active = 1
    book.save(tmp_path / "a.xlsx")
    table = read_xlsx(tmp_path / "a.xlsx", "a.xlsx")
    assert table.rows[0].cells == ("seen",)
    assert [f.code for f in table.findings] == ["sheets-hidden"]
    assert "Earlier" in table.findings[0].message
    assert read_xlsx(tmp_path / "a.xlsx", "a.xlsx", sheet="Earlier").rows[0].cells == ("hidden",)


MEASURE = """\
import sys, time
from pathlib import Path
from fleetstats.study.study import RecordFile
from fleetstats.tables.open_table import open_table
from fleetstats.tables.table import TableError
began = time.process_time()
for name in sys.argv[1:]:
    try:
        open_table(RecordFile(file=name, path=Path(name)))
    except TableError:
        continue
    sys.exit(f"{name} was read")
# not getrusage: its peak counts what the process was before it began this program
peak = next(x for x in Path("/proc/self/status").read_text().splitlines() if "VmHWM" in x)
print(int(peak.split()[1]) // 1024, time.process_time() - began)
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
def test_the_costliest_stay_within_memory_and_time(tmp_path: Path) -> None:
    """Bounds of our own: 600 MB and 10 s of processor for all five together, imports included."""
    cases = [TEXTS[0], TEXTS[2], WORKBOOKS[0], WORKBOOKS[6], PARQUETS[0]]
    for i, case in enumerate(cases):
        case.write(tmp_path / f"{i}{case.file}")
    names = [f"{i}{c.file}" for i, c in enumerate(cases)]
    run = subprocess.run(
        [sys.executable, "-c", MEASURE, *names],
        cwd=tmp_path, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    peak_mb, seconds = map(float, run.stdout.split())
    assert peak_mb < 600
    assert seconds < 10
