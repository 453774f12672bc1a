"""Rows read by columns and rows read one by one give the same lives, findings and account."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from odd_rows import COLUMNS, PLAIN, one_row

from fleetstats.records.lives import lives as lives_module
from fleetstats.records.lives.lives import read_lives
from fleetstats.study.category_settings import GroupKeys
from fleetstats.study.settings import HoursKeys, Settings, StudyKeys
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.coded import code_cells
from fleetstats.tables.table import RawRow, RawTable


def table_of(rows: list[dict[str, Any]], names: list[str]) -> RawTable:
    return RawTable(
        file="x.csv", header=tuple(names), delimiter=",",
        rows=tuple(RawRow(row=i, cells=tuple(r[n] for n in names))
                   for i, r in enumerate(rows, start=2)),
        short={3: 2}, long={4: 9}, merged=frozenset({5}), formulas=frozenset({6}),
    )  # fmt: skip


@settings(max_examples=250, deadline=None)
@given(
    rows=st.lists(one_row(), max_size=12),
    left_out=st.sets(st.sampled_from(["entry_hours", "cause", "note", "meter", "count", "build"])),
    minutes=st.booleans(),
    boost=st.booleans(),
    observed=st.sampled_from([None, dt.date(2024, 6, 1)]),
    decimal=st.sampled_from(["auto", ".", ","]),
)
def test_both_ways_agree(
    rows: list[dict[str, Any]], left_out: set[str], minutes: bool, boost: bool,
    observed: dt.date | None, decimal: str,
) -> None:  # fmt: skip
    names = [n for n in COLUMNS if n not in left_out]
    agree(rows, names, minutes=minutes, boost=boost, observed=observed, decimal=decimal)


def agree(
    rows: list[dict[str, Any]], names: list[str], *, minutes: bool = False, boost: bool = False,
    observed: dt.date | None = None, decimal: str = "auto",
) -> Any:  # fmt: skip
    """Read both ways, compare, and return the findings."""
    file = RecordFile(
        file="x.csv", source="club", observed_from=observed, decimal=decimal,
        endings={"boom": "failed"}, causes={"B1": "bearing"},
    )  # fmt: skip
    study = Study(
        folder=Path(), files=(file,), chosen=frozenset(),
        settings=Settings(
            study=StudyKeys(title="x", analysis_date=dt.date(2025, 12, 31)),
            hours=HoursKeys(unit="min" if minutes else "h"),
            groups=GroupKeys(covariates=("boost",) if boost else ()),
        ),
    )  # fmt: skip
    table = table_of(rows, names)
    by_columns = read_lives(study, file, table)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(lives_module, "_usable", lambda t, _: np.zeros(len(t.rows), dtype=bool))
        by_rows = read_lives(study, file, table)
    assert by_columns == by_rows
    return {f.code for f in by_columns.findings}


@pytest.mark.parametrize(
    ("odd", "code"),
    [
        ({"entry_hours": "", "observed_from_date": "2024-07-01"}, "entry-missing"),
        ({"entry_hours": "200"}, "exit-before-entry"),
        ({"entry_hours": "100.5"}, "failure-without-exposure"),
        ({"entry_hours": "100.499"}, "hours-below-meter"),
        ({"exit_hours": ""}, "hours-missing"),
        ({"exit_hours": "200000"}, "hours-impossible"),
        ({"last_good_hours": "101"}, "last-good-after-exit"),
        ({"last_good_hours": "20"}, "last-good-before-entry"),
        ({"ending": "found-at-check"}, "last-good-missing"),
        ({"ending": "running"}, "running-ended"),
        ({"overhauled_at_hours": "60"}, "overhaul-within-life"),
        ({"modified_at_hours": "60"}, "modification-unclear"),
        ({"note": "x" * 2001}, "text-cut"),
        ({"stray": "\x07"}, "control-characters"),
        ({"meter": "sundial"}, "meter-unknown"),
        ({"count": "0"}, "count-unreadable"),
        ({"clock_doubt": "5"}, "clock-doubt-unreadable"),
        ({"confirmed": "maybe"}, "confirmed-unreadable"),
        ({"engine": "example"}, "example-row"),
        ({"engine": "n/a"}, "engine-missing"),
        ({"ended_date": "31/31/2025"}, "date-impossible"),
    ],
)
def test_a_row_with_one_odd_thing_is_not_taken_for_plain(odd: dict[str, str], code: str) -> None:
    assert code in agree([PLAIN | odd], list(COLUMNS))


def test_plain_rows_are_read_by_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    """The row reader is not asked at all for rows with nothing odd in them."""
    names = ["engine", "exit_hours", "ending", "last_reading_date"]
    rows = [{"engine": f"E-{i}", "exit_hours": f"{i}.5", "ending": "running",
             "last_reading_date": "2025-01-01"} for i in range(1, 50)]  # fmt: skip
    table = RawTable(
        file="x.csv", header=tuple(names), delimiter=",",
        rows=tuple(RawRow(row=i, cells=tuple(r.values())) for i, r in enumerate(rows, start=2)),
    )  # fmt: skip
    file = RecordFile(file="x.csv")
    study = Study(
        folder=Path(), files=(file,), chosen=frozenset(),
        settings=Settings(study=StudyKeys(title="x", analysis_date=dt.date(2025, 12, 31))),
    )  # fmt: skip

    def never(*_: Any) -> None:
        raise AssertionError("asked")

    monkeypatch.setattr(lives_module.LifeReader, "read", never)
    got = read_lives(study, file, table)
    assert [r.exit_h for r in got.rows] == [i + 0.5 for i in range(1, 50)]


def test_cells_that_are_equal_and_of_different_kinds_stay_apart() -> None:
    coded = code_cells([1, 1.0, True, "1", "1", 1, None])
    assert coded.codes.tolist() == [0, 1, 2, 3, 3, 0, 4]
    assert [type(c) for c in coded.cells] == [int, float, bool, str, type(None)]
