"""A table read by chunks is accounted for, audited and built as one of ordinary size."""

from __future__ import annotations

import csv
import datetime as dt
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from odd_rows import COLUMNS, PLAIN, RUNS, one_row

from fleetstats.core.errors import RecordError, SettingError
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.readers import read_records
from fleetstats.spells.build import build_spells
from fleetstats.spells.bulk import bulk_engines
from fleetstats.spells.bulk.bulk import build_bulk
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.spells import Spells
from fleetstats.study.study import Study, read_study
from fleetstats.tables import csv_chunks
from fleetstats.vocabulary.findings import FILE_FINDINGS, LIFE_FINDINGS

NOT_LOOKED_FOR = {"possible-duplicate", "engine-respelt", "copied-life", "ids-alike"}
NOT_TREATED = NOT_LOOKED_FOR | {"cause-misspelt", "cause-undeclared"}
TREAT = sorted(c for c in LIFE_FINDINGS if c not in FILE_FINDINGS and c not in NOT_TREATED)
HEAD = """\
[study]
title = "Test"
analysis_date = 2025-12-31
[fleet]
built = 9
[merge]
returns = false
[hours]
factors = {{ tach = [1.2, 1.1, 1.3] }}
[treat]
{treat}
[[records]]
file = "x.{kind}"
source = "club A"
{more}
"""


def make(folder: Path, rows: list[dict[str, Any]], *, accept: bool = False, kind: str = "csv",
         more: str = "", columns: list[str] | None = None) -> Study:  # fmt: skip
    names = columns or list(COLUMNS)
    if kind == "csv":
        with (folder / "x.csv").open("w", newline="", encoding="utf-8") as f:
            writer = csv.writer(f)
            writer.writerow(names)
            writer.writerows([["" if r[n] is None else r[n] for n in names] for r in rows])
    treat = [
        f'{c} = "{"accept" if accept and LIFE_FINDINGS[c].may_accept else "set-aside"}"'
        for c in TREAT
    ]
    text = HEAD.format(treat="\n".join(treat), kind=kind, more=more)
    (folder / "study.toml").write_text(text, encoding="utf-8")
    return read_study(folder)


def row_set(s: Spells) -> list[tuple[float, ...]]:
    c = s.collapse()
    empty = np.full(len(c), "")
    c = c.replace(cause=empty, source=empty, build=empty).collapse()
    table = np.column_stack([c.entry, c.exit_lower, c.exit_upper, c.event, c.weight])
    return sorted(map(tuple, table.tolist()))


def sums_of(left_out: Iterable[LeftOut]) -> dict[tuple[str, float], int]:
    """How many failures are left out for each reason, and the greatest age that they can have.

    The least age of one whose engine another row saw running is not looked for by chunks.
    """
    out: Counter[tuple[str, float]] = Counter()
    for x in left_out:
        out[x.reason, round(x.high_h, 6)] += x.count
    return dict(out)


def compare(study: Study) -> None:
    """Build both ways and compare rows, reasons, findings, endings and spells."""
    records = read_records(study)
    audit = audit_records(study, records)
    built = build_spells(study, records, audit)
    if not len(built.spells):
        with pytest.raises(RecordError, match="No life is left"):
            build_bulk(study)
        return
    bulk = build_bulk(study)
    assert (bulk.n_read, bulk.n_used, bulk.n_blank) == (audit.n_read, audit.n_used, audit.n_blank)
    assert bulk.n_read == bulk.n_used + bulk.n_set_aside
    assert bulk.reasons == audit.reasons
    counts = Counter(f.code for f in audit.findings if f.code not in NOT_LOOKED_FOR)
    assert {k: n for k, n in bulk.counts.items() if k not in NOT_LOOKED_FOR} == dict(counts)
    assert row_set(bulk.spells) == row_set(built.spells)
    ends = {(e.ending, e.cause, e.confirmed, e.counts_as, e.reason): e.n for e in built.endings}
    assert {(e.ending, e.cause, e.confirmed, e.counts_as, e.reason): e.n
            for e in bulk.endings} == ends  # fmt: skip
    assert bulk.trouble.counts == built.trouble.counts
    assert sums_of(bulk.left_out) == sums_of(built.left_out)
    engines = built.funnel.total
    assert (bulk.engines, bulk.engines_used, bulk.n_fate_unknown) == (
        engines.engines, engines.engines_used, built.n_fate_unknown
    )  # fmt: skip


@settings(max_examples=60, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(
    rows=st.lists(one_row(texts=True), min_size=1, max_size=25),
    block=st.integers(60, 4000),
    accept=st.booleans(),
    distinct=st.booleans(),
)
def test_by_chunks_as_by_rows(
    tmp_path: Path, rows: list[dict[str, Any]], block: int, accept: bool, distinct: bool
) -> None:
    if distinct:
        rows = [r | {"engine": f"{r['engine']}{i}"} for i, r in enumerate(rows)]
    study = make(tmp_path, rows, accept=accept)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(csv_chunks, "BLOCK", block)
        compare(study)


ENGINES = st.lists(
    st.tuples(
        st.sampled_from(["E1", "e-01", "E2"]), st.integers(0, 4), st.integers(1, 3),
        st.sampled_from(["running", "failed", "removed"]), st.integers(0, 3),
    ),
    min_size=2, max_size=12,
)  # fmt: skip


@settings(max_examples=70, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(lives=ENGINES, block=st.integers(60, 2000), accept=st.booleans())
def test_engines_told_twice_are_found(
    tmp_path: Path, lives: list[tuple[str, int, int, str, int]], block: int, accept: bool
) -> None:
    rows = []
    for engine, entry, length, ending, day in lives:
        date = f"2025-0{day + 1}-01" if day else ""
        rows.append(PLAIN | {
            "engine": engine, "entry_hours": str(100 * entry), "ending": ending,
            "exit_hours": str(100 * (entry + length)), "in_service_date": "",
            "ended_date": "" if ending == "running" else date,
            "last_reading_date": date if ending == "running" else "",
        })  # fmt: skip
    study = make(tmp_path, rows, accept=accept)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(csv_chunks, "BLOCK", block)
        compare(study)


def test_parquet_as_csv(tmp_path: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    n = 300
    rng = np.random.default_rng(2)
    hours = np.round(rng.uniform(50, 1500, n), 1)
    table = pa.table({
        "engine": [f"E{i // 2 if i % 50 == 0 else i}" for i in range(n)],
        "exit_hours": hours,
        "entry_hours": pa.array([None if i % 3 else float(i) for i in range(n)]),
        "ending": pa.array(["failed" if i % 7 == 0 else "running" for i in range(n)]
                           ).dictionary_encode(),
        "cause": ["piston" if i % 7 == 0 else "" for i in range(n)],
        "last_reading_date": [dt.date(2020 + i % 6, 1, 1) for i in range(n)],
        "count": pa.array([1 + i % 2 for i in range(n)], pa.int16()),
    })  # fmt: skip
    pq.write_table(table, tmp_path / "x.parquet", row_group_size=70)
    compare(make(tmp_path, [], kind="parquet"))


def test_what_stops_a_study_stops_it_here_with_counts(tmp_path: Path) -> None:
    rows = [PLAIN | {"engine": f"E{i}", "ending": "boom"} for i in range(30)]
    study = make(tmp_path, rows)
    text = (tmp_path / "study.toml").read_text().replace('ending-unknown = "set-aside"', "")
    (tmp_path / "study.toml").write_text(text)
    study = read_study(tmp_path)
    with pytest.raises(RecordError) as e:
        build_bulk(study)
    assert "ending-unknown: 30 findings" in e.value.message
    assert "x.csv row 2, column 'ending': 'boom' is no known ending." in e.value.message
    assert e.value.message.count("'boom'") == 5


@pytest.mark.parametrize(
    ("more", "said"),
    [('shape = "log"', "shape 'lives'"), ("[hours]\ncarry_to_analysis_date = true", "carry"),
     ('[question]\nnot_renewed_causes = ["x"]', "not_renewed_causes"),
     ('cause-misspelt = "set-aside"', "treat.cause-misspelt"),
     ('[[merge.decisions]]\nengine = "E1"\ntake = "separate"\nreason = "x"', "merge.decisions"),
     ('[portfolio]\nfamily = "build"', "fleetstats portfolio")],
)  # fmt: skip
def test_what_cannot_be_done_by_chunks_is_told(tmp_path: Path, more: str, said: str) -> None:
    make(tmp_path, [PLAIN])
    text = (tmp_path / "study.toml").read_text()
    text = text.replace("[hours]\n", "") if "[hours]" in more else text
    if "[hours]" in more:
        text = text.replace("factors = {{ tach = [1.2, 1.1, 1.3] }}", "")
        text = text.replace("factors = { tach = [1.2, 1.1, 1.3] }", "")
    text = text.replace("[fleet]\nbuilt = 9\n", "")
    if more.startswith("cause"):
        text, more = text.replace("[treat]\n", f"[treat]\n{more}\n"), ""
    (tmp_path / "study.toml").write_text(text + more + "\n")
    with pytest.raises(SettingError, match=said):
        build_bulk(read_study(tmp_path))


def test_too_many_doubtful_rows_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bulk_engines, "MOST_AGAIN", 10)
    study = make(tmp_path, [PLAIN] * 20)
    with pytest.raises(RecordError, match="20 rows tell of engines"):
        build_bulk(study)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("block", [200, 10_000])
def test_lines_may_end_in_any_way(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, end: str, block: int
) -> None:
    study = make(tmp_path, [PLAIN | {"engine": f"E{i}", "exit_hours": "x" if i == 9 else "90"}
                            for i in range(30)])  # fmt: skip
    text = (tmp_path / "x.csv").read_bytes().decode().replace("\r\n", end)
    (tmp_path / "x.csv").write_bytes(text.encode())
    monkeypatch.setattr(csv_chunks, "BLOCK", block)
    monkeypatch.setattr(csv_chunks, "HEAD", 1000)
    compare(study)
    assert [f.row for f in build_bulk(study).findings if f.code == "hours-unreadable"] == [11]


def test_engines_are_counted_as_in_a_study(tmp_path: Path) -> None:
    # one label for two batches; a row set aside; an engine that a row without a life names
    many = [PLAIN | RUNS | {"engine": "batch", "count": n} for n in ("4", "5")]
    rows = [*many, PLAIN, PLAIN | {"engine": "E8", "exit_hours": "x"}]
    compare(make(tmp_path, rows))
    bulk = build_bulk(read_study(tmp_path))
    assert (bulk.engines, bulk.engines_used, bulk.n_fate_unknown) == (11, 10, 0)
    assert bulk.counts["more-than-built"] == 1


def test_a_row_set_aside_under_the_label_of_equal_engines_tells_of_one(tmp_path: Path) -> None:
    aside = PLAIN | {"engine": "batch", "exit_hours": "x"}
    many = PLAIN | RUNS | {"engine": "batch", "count": "3"}
    compare(make(tmp_path, [aside, many]))
    assert build_bulk(read_study(tmp_path)).n_fate_unknown == 5
    compare(make(tmp_path, [many]))
    assert build_bulk(read_study(tmp_path)).n_fate_unknown == 6


def test_equal_rows_of_very_short_lives_are_found(tmp_path: Path) -> None:
    row = PLAIN | {"entry_hours": "0", "exit_hours": "0.02", "ended_date": "2025-06-30"}
    compare(make(tmp_path, [row, row, PLAIN | {"engine": "E9"}]))
    assert build_bulk(read_study(tmp_path)).counts["duplicate-row"] == 1
