"""Whatever file is handed in, each row of checks, readings and bench runs is used or set aside."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleetstats.records.condition.bench_records import read_bench
from fleetstats.records.condition.checks import read_checks
from fleetstats.records.condition.leakdown import read_leakdown
from fleetstats.study.condition_settings import LeakdownKeys
from fleetstats.study.record_settings import RecordKeys
from fleetstats.tables.csv_table import read_csv
from fleetstats.tables.table import TableError

HEADS = {
    "checks": ["engine", "hours", "result", "mode", "grade", "value", "date", "oil hours"],
    "leakdown": ["engine", "hours", "cyl", "reading", "supply", "id", "retest of", "reference"],
    "bench": ["part", "stress", "life", "ended", "mode", "proven by"],
}
ODD = st.sampled_from(
    ["", "E-1", "100", "clean", "found", "failed", "run-out", "1e308", "-5", "nan", "inf", "=1+1",
     "0", "80", "12,5", "1.234,5", "2026-02-30", "03/04/2021", "none", "None", "\u202e", "<b>",
     "9" * 400, "'", '"', "a\x00b", "½", "１２", "1:30", "chips", "4", "r1"]
)  # fmt: skip


@pytest.mark.parametrize("shape", HEADS)
@settings(
    max_examples=50,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_every_row_is_accounted_for(tmp_path, shape, data):
    head = HEADS[shape]
    cells = st.one_of(ODD, st.text(max_size=12))
    rows = data.draw(st.lists(st.lists(cells, max_size=len(head) + 2), max_size=8))
    mark = data.draw(st.sampled_from([",", ";", "\t"]))
    text = "\n".join(mark.join(r) for r in [head, *rows])
    path = tmp_path / "rows.csv"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        table = read_csv(path, "rows.csv")
    except TableError:
        return  # the reader of tables says what is wrong; its own fuzz looks at that
    keys = RecordKeys(file="rows.csv", shape=shape)
    if shape == "checks":
        out = read_checks(table, keys)
    elif shape == "leakdown":
        out = read_leakdown(table, keys, LeakdownKeys())
    else:
        out = read_bench(table, keys)
    assert out.n_read == len(out.rows) + len(out.set_aside)
    rows_told = [r.origin.row for r in out.rows] + [s.row for s in out.set_aside]
    assert sorted(rows_told) == sorted(r.row for r in table.rows)
    assert all(f.message and f.file == "rows.csv" for f in out.findings)
    for r in out.rows:
        hours = getattr(r, "hours_h", 1.0)
        assert 0.0 <= hours <= 1e5
