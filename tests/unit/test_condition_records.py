"""Checks, leak-down readings and bench runs: each row is used or set aside with its reason."""

import pytest

from fleetstats.records.condition.bench_records import read_bench
from fleetstats.records.condition.checks import read_checks
from fleetstats.records.condition.leakdown import read_leakdown
from fleetstats.study.condition_settings import LeakdownKeys
from fleetstats.study.record_settings import RecordKeys
from fleetstats.tables.csv_table import read_csv


def table(tmp_path, text):
    path = tmp_path / "rows.csv"
    path.write_text(text, encoding="utf-8")
    return read_csv(path, "rows.csv")


def codes(reading):
    return [s.reason for s in reading.set_aside]


def test_checks_are_read_in_the_words_of_clubs(tmp_path):
    t = table(
        tmp_path,
        "Serial No;Hours at check;Check;Outcome;Failure mode;Metal;Action taken\n"
        "E-1;100,5;chip plug;OK;;none;none\n"
        "E-1;150,5;Mag plug;finding;Exhaust VALVE;slivers;monitor\n"
        "E-2;50,5;borescope;doubtful;;;\n",
    )
    out = read_checks(t, RecordKeys(file="rows.csv"), causes=("exhaust valve",), factor=0.9)
    first, second, third = out.rows
    assert (first.result, first.method, first.grade) == ("clean", "plug", 0)
    assert first.hours_h == pytest.approx(90.45)
    assert (second.result, second.mode, second.grade) == ("found", "exhaust valve", 3)
    assert not second.mended
    assert third.result == "doubtful"
    assert third.mended
    assert out.n_read == 3
    assert not out.set_aside


def test_a_row_that_cannot_be_read_is_set_aside_and_named(tmp_path):
    t = table(
        tmp_path,
        "engine,hours,result,value\n"
        ",100,clean,\n"
        "E-1,abc,clean,\n"
        "E-1,-5,clean,\n"
        "E-1,100,cleen,\n"
        "E-1,100,,\n"
        "E-1,100,,0.2\n",
    )
    out = read_checks(t, RecordKeys(file="rows.csv"))
    assert codes(out) == [
        "engine-missing",
        "number-unread",
        "hours-impossible",
        "result-unknown",
        "result-missing",
    ]
    assert out.n_read == len(out.rows) + len(out.set_aside) == 6
    near = next(f for f in out.findings if f.code == "result-unknown")
    assert "Did you mean 'clean'?" in near.advice
    assert (near.file, near.row, near.column, near.value) == ("rows.csv", 5, "result", "cleen")


def test_a_file_without_a_needed_column_sets_all_its_rows_aside(tmp_path):
    out = read_checks(table(tmp_path, "engine,when\nE-1,3\nE-2,4\n"), RecordKeys(file="rows.csv"))
    assert not out.rows
    assert codes(out) == ["column-missing", "column-missing"]


def test_a_retest_replaces_the_reading_it_names_and_both_stay(tmp_path):
    t = table(
        tmp_path,
        "engine,hours,cyl,reading,id,retest of,reference\n"
        "E-1,100,1,58,a,,52\n"
        "E-1,100,1,74,,a,52\n"
        "E-1,100,2,75,,,\n",
    )
    out = read_leakdown(t, RecordKeys(file="rows.csv"), LeakdownKeys())
    assert [r.replaced_by for r in out.rows] == [3, None, None]
    assert out.rows[0].reference == 52
    assert out.rows[2].supply == 80


@pytest.mark.parametrize(
    ("rows", "replaced", "set_aside"),
    [
        # a retest may stand above the reading that it repeats, and be repeated in turn
        (("E-1,100,1,72,b,a", "E-1,100,1,60,a,", "E-1,101,1,74,c,b"), [4, 2, None], []),
        # two that repeat each other would both be gone
        (("E-1,100,1,72,b,a", "E-1,100,1,60,a,b"), [], ["retest-unknown"] * 2),
        (("E-1,100,1,72,a,a",), [], ["retest-unknown"]),
        # a reading that was set aside is none to repeat
        (("E-1,100,1,72,b,a", "E-1,100,1,99,a,"), [], ["retest-unknown", "reading-impossible"]),
    ],
)
def test_retests_stand_in_any_order(tmp_path, rows, replaced, set_aside):
    t = table(tmp_path, "\n".join(("engine,hours,cyl,reading,id,retest of", *rows)))
    out = read_leakdown(t, RecordKeys(file="rows.csv"), LeakdownKeys())
    assert [r.replaced_by for r in out.rows] == replaced
    assert [a.reason for a in out.set_aside] == set_aside
    assert len(out.rows) + len(out.set_aside) == len(rows)


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ("E-1,100,1,81,,,", "reading-impossible"),
        ("E-1,100,,70,,,", "cylinder-missing"),
        ("E-1,100,1,70,,zz,", "retest-unknown"),
        ("E-1,100,2,70,,a,", "retest-other-cylinder"),
        ("E-1,100,1,70,a,,", "reading-id-twice"),
        ("E-1,100,1,70,,,tepid", "temperature-unknown"),
    ],
)
def test_impossible_leak_down_rows(tmp_path, row, code):
    t = table(
        tmp_path, f"engine,hours,cyl,reading,id,retest of,temperature\nE-1,90,1,70,a,,\n{row}"
    )
    out = read_leakdown(t, RecordKeys(file="rows.csv"), LeakdownKeys())
    assert codes(out) == [code]
    assert len(out.rows) == 1


def test_bench_rows(tmp_path):
    t = table(
        tmp_path,
        "part,stress,cycles,result,failure mode,proven by\n"
        "C1,420,1.2e6,broke,fillet,fractography\n"
        "C2,380,1e7,run-out,,\n"
        "C3,0,5,failed,,\n"
        "C4,380,5,perhaps,,\n",
    )
    out = read_bench(t, RecordKeys(file="rows.csv"))
    assert [(r.failed, r.mode) for r in out.rows] == [(True, "fillet"), (False, "")]
    assert codes(out) == ["stress-impossible", "ended-unknown"]


def test_rows_without_a_life_or_past_its_end_are_told():
    from fleetstats.records.condition.checks import CheckRow
    from fleetstats.records.condition.condition_audit import audit_condition
    from fleetstats.records.condition.leakdown import LeakRow
    from fleetstats.records.life import LifeRow
    from fleetstats.vocabulary.finding import Origin

    def check(engine, hours, row):
        return CheckRow(
            origin=Origin(file="c.csv", row=row), engine=engine, hours_h=hours, result="clean"
        )

    lives = [
        LifeRow(origin=Origin(file="l.csv", row=2), engine="E-1", exit_h=500.0, ending="running"),
        LifeRow(origin=Origin(file="l.csv", row=3), engine="E-2", exit_h=300.0, ending="failed"),
    ]
    checks = [check("e1", 500.4, 2), check("E 1", 520.0, 3), check("E-2", 310.0, 4),
              check("E-3", 10.0, 5), check("E-3", 60.0, 6)]  # fmt: skip
    leak = [
        LeakRow(origin=Origin(file="d.csv", row=9), engine="E-9", hours_h=5.0, cylinder="1",
                reading=70.0, supply=80.0)
    ]  # fmt: skip
    found = audit_condition(checks, leak, lives)
    assert [(f.code, f.file, f.row) for f in found] == [
        ("condition-hours-late", "c.csv", 3),
        ("condition-hours-late", "c.csv", 4),
        ("condition-engine-unknown", "c.csv", 5),
        ("condition-engine-unknown", "d.csv", 9),
    ]
    assert "Update the engine's hours" in found[0].advice
    assert "Its life ended there" in found[1].advice
    assert "2 checks" in found[2].message
