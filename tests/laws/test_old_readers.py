"""The row engine reads every cell as the readers before it did, which are kept in `tests/oracle`.

Rows, findings, rows set aside and their reasons are the same on made tables of any cells; both old
and new read each table. What was meant to change is named in `SAME_BUT`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from odd_rows import COLUMNS, one_row
from oracle.old_bench_records import read_bench as old_bench
from oracle.old_checks import read_checks as old_checks
from oracle.old_leakdown import read_leakdown as old_leakdown
from oracle.old_lives import read_lives as old_lives
from oracle.old_log_reader import read_log_events as old_log

from fleetstats.records.condition.bench_records import read_bench
from fleetstats.records.condition.checks import read_checks
from fleetstats.records.condition.leakdown import read_leakdown
from fleetstats.records.lives.lives import read_lives
from fleetstats.records.log.log_reader import read_log_events
from fleetstats.study.condition_settings import LeakdownKeys
from fleetstats.study.settings import GroupKeys, HoursKeys, Settings, StudyKeys, TreatKeys
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.table import BadCell, RawRow, RawTable
from fleetstats.vocabulary.fields.bench import BENCH_FIELDS
from fleetstats.vocabulary.fields.checks import CHECK_FIELDS
from fleetstats.vocabulary.fields.leakdown import LEAKDOWN_FIELDS
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS

MANY = settings(
    max_examples=200,
    deadline=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow],
)

SAME_BUT = {"decimal-guessed": ("value",)}
"""Findings that carry more than they did: a guessed decimal mark now shows a number of the file."""

NUMBERS = ["0", "100", "812.4", "12,5", "1.234,5", "1,234.5", "-5", "1e308", "1e999", "inf", "nan",
           "1:30", "812 h", "99999", "100001", "6000001", "9" * 400, "=1+1", "½",
           "1 234"]  # fmt: skip
WORDS = ["", " ", "-", "n/a", "none", "None", "unknown", "E-1", "e1", "EXAMPLE", "E" * 90,
         "x" * 2500, "yes", "no", "perhaps", "tach", "hobs", "flight", "2024-05-17", "2024-02-30",
         "03/04/2021", "31/12/2024", "17.5.2024", "45000", "1850-01-01", "a\x00b", "\u202e", "a\nb",
         "<b>", "\ufffd", "sold"]  # fmt: skip
OWN = {
    "lives": ["running", "failed", "failed (in cruise)", "boom", "overhauled", "overhaul due",
              "found at check", "removed", "lost", "B1", "piston"],
    "log": ["installed", "reading", "failed", "boom", "sold", "part-fitted", "teardown",
            "crankshaft", "B1", "Left"],
    "checks": ["clean", "found", "doubtful", "fuzz", "4", "7", "chips", "exhaust valve", "B1",
               "plug", "mag plug", "monitor", "clean (again)"],
    "leakdown": ["r1", "r2", "1", "2", "hot", "warm", "tepid", "80", "78"],
    "bench": ["failed", "run-out", "unbroken", "1", "maybe", "fractography"],
}  # fmt: skip
FIELDS = {
    "lives": LIFE_FIELDS, "log": LOG_FIELDS, "checks": CHECK_FIELDS,
    "leakdown": LEAKDOWN_FIELDS, "bench": BENCH_FIELDS,
}  # fmt: skip


def cells(shape: str) -> st.SearchStrategy[Any]:
    return st.one_of(
        st.sampled_from(NUMBERS),
        st.sampled_from(WORDS),
        st.sampled_from(OWN[shape]),
        st.sampled_from(OWN[shape]),
        st.none(),
        st.text(max_size=8),
        st.floats(),
        st.integers(-(10**40), 10**40),
        st.integers(0, 2000),
        st.booleans(),
        st.dates(dt.date(1890, 1, 1), dt.date(2100, 1, 1)),
        st.datetimes(dt.datetime(1990, 1, 1)),
        st.timedeltas(dt.timedelta(0), dt.timedelta(days=300)),
        st.times(),
        st.just(BadCell(shown="#DIV/0!", why="An error stands")),
    )


LIKELY = {
    "engine": ["E-1", "E-1", "E-2", "E-3", "", "EXAMPLE"],
    "kind": ["installed", "reading", "failed", "boom", "check", "nonsense", ""],
    "ending": ["running", "failed", "boom", "found at check", "overhauled", "sold", ""],
    "exit_hours": ["1180", "812,5", "600.5", "", "x"],
    "entry_hours": ["", "600", "0"],
    "hours": ["100", "550.5", "", "x", "99999", "6000000"],
    "cylinder": ["1", "2", "№ 1", ""],
    "reading": ["70", "78.5", "80", "81", "", "x"],
    "supply": ["", "80", "0", "75"],
    "result": ["clean", "found", "", "perhaps"],
    "stress": ["420", "0", "", "x"],
    "life": ["1250000", "0", "", "x"],
    "ended": ["failed", "run-out", "1", "", "maybe"],
    "retest_of": ["", "", "r1"],
    "id": ["", "r1", "r2"],
    "count": ["", "3", "0", "2.5", "1e9"],
}


@st.composite
def tables(draw: st.DrawFn, shape: str) -> RawTable:
    names = [f.name for f in FIELDS[shape]]
    left_out = draw(st.sets(st.sampled_from(names), max_size=draw(st.sampled_from([0, 0, 2]))))
    names = [n for n in names if n not in left_out]
    if shape == "lives" and draw(st.booleans()):
        names.append("boost")
    anything = cells(shape)
    likely = draw(st.booleans())

    def cell(name: str) -> st.SearchStrategy[Any]:
        if name in LIKELY:
            usual = st.sampled_from(LIKELY[name])
            return usual if likely else st.one_of(usual, anything)
        return st.one_of(st.just(""), anything) if likely else anything

    rows = draw(st.lists(st.tuples(*map(cell, names)), max_size=6))
    some = st.frozensets(st.integers(2, 7), max_size=1)
    return RawTable(
        file="rows.csv", sheet=draw(st.sampled_from(["", "Sheet 1"])), header=tuple(names),
        delimiter=draw(st.sampled_from([",", ";"])),
        rows=tuple(RawRow(row=i, cells=r) for i, r in enumerate(rows, start=2)),
        short=dict.fromkeys(draw(some), 2), long=dict.fromkeys(draw(some), 99),
        merged=draw(some), formulas=draw(some),
    )  # fmt: skip


@st.composite
def studies(draw: st.DrawFn, shape: str) -> Study:
    file = RecordFile(
        file="rows.csv", shape=shape, source="club",
        decimal=draw(st.sampled_from(["auto", "auto", ".", ","])),
        date_order=draw(st.sampled_from(["auto", "day-first", "month-first"])),
        meter=draw(st.sampled_from(["", "tach"])),
        observed_from=draw(st.sampled_from([None, dt.date(2024, 6, 1)])),
        endings={"boom": "failed", "B 1": "lost"}, causes={"B1": "bearing", "piston": "unknown"},
        kinds={"boom": "failed"},
    )  # fmt: skip
    return Study(
        folder=Path(), files=(file,), chosen=frozenset(),
        settings=Settings(
            study=StudyKeys(title="x", analysis_date=dt.date(2025, 12, 31)),
            hours=HoursKeys(unit=draw(st.sampled_from(["h", "min"])),
                            basis=draw(st.sampled_from(["since-new", "since-overhaul"]))),
            groups=GroupKeys(covariates=("boost",)),
            treat=TreatKeys(actions={"log-cell-left-out": "stop", "log-kind-unknown": "accept"}),
        ),
    )  # fmt: skip


def plain(values: Iterable[Any]) -> list[dict[str, Any]]:
    """Return value types as what they hold, whatever module they are from; NaN is itself."""
    out = []
    for v in values:
        skip = SAME_BUT.get(getattr(v, "code", ""), ())
        out.append({f.name: repr(getattr(v, f.name)) for f in fields(v) if f.name not in skip})
    return out


def alike(new: Any, old: Any, what: str) -> None:
    """Compare two readings; set-aside rows of old may lack their sheet, which is added later."""
    assert plain(getattr(new, what)) == plain(getattr(old, what))
    assert plain(new.findings) == plain(old.findings)
    aside = [replace(a, sheet=new.set_aside[0].sheet) for a in old.set_aside if new.set_aside]
    assert plain(new.set_aside) == plain(aside)
    assert len(new.set_aside) == len(old.set_aside)
    for name in ("n_read", "n_blank", "engines", "lines"):
        assert getattr(new, name, None) == getattr(old, name, None)


@MANY
@given(table=tables("lives"), study=studies("lives"))
def test_lives(table: RawTable, study: Study) -> None:
    file = study.files[0]
    alike(read_lives(study, file, table), old_lives(study, file, table), "rows")


@MANY
@given(rows=st.lists(one_row(), max_size=12), study=studies("lives"))
def test_lives_nearly_right(rows: list[dict[str, Any]], study: Study) -> None:
    table = RawTable(
        file="x.csv", header=tuple(COLUMNS), delimiter=",",
        rows=tuple(RawRow(row=i, cells=tuple(r[n] for n in COLUMNS))
                   for i, r in enumerate(rows, start=2)),
    )  # fmt: skip
    file = study.files[0]
    alike(read_lives(study, file, table), old_lives(study, file, table), "rows")


@MANY
@given(table=tables("log"), study=studies("log"))
def test_logs(table: RawTable, study: Study) -> None:
    file = study.files[0]
    new = read_log_events(table, file, study.settings)
    alike(new, old_log(table, file, study.settings), "events")


@pytest.mark.parametrize("unit", ["h", "min"])
@MANY
@given(table=tables("checks"), study=studies("checks"))
def test_checks(unit: str, table: RawTable, study: Study) -> None:
    more = {"causes": ("Exhaust valve",), "factor": 1.25, "unit": unit}
    new, old = (read(table, study.files[0], **more) for read in (read_checks, old_checks))
    alike(new, old, "rows")


@MANY
@given(table=tables("leakdown"), study=studies("leakdown"))
def test_leakdown(table: RawTable, study: Study) -> None:
    new, old = (
        read(table, study.files[0], LeakdownKeys(), factor=1.25, unit=study.settings.hours.unit)
        for read in (read_leakdown, old_leakdown)
    )
    alike(new, old, "rows")


@pytest.mark.parametrize("unit", ["", "h", "min"])
@MANY
@given(table=tables("bench"), study=studies("bench"))
def test_bench(unit: str, table: RawTable, study: Study) -> None:
    new, old = (read(table, study.files[0], unit=unit) for read in (read_bench, old_bench))
    alike(new, old, "rows")
