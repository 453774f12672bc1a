"""Events read by whole columns and row by row are the same, and so is what is replayed of them."""

from __future__ import annotations

import datetime as dt
from itertools import repeat
from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetstats.records.life import LifeRow
from fleetstats.records.log import log_reader
from fleetstats.records.log.plain_events import read_plain_events
from fleetstats.records.log_event import LogEvent
from fleetstats.records.reading import Reading
from fleetstats.records.rows.many import make_many
from fleetstats.study.category_settings import CategoryKeys
from fleetstats.study.settings import HoursKeys, Settings, StudyKeys
from fleetstats.study.study import RecordFile
from fleetstats.tables.table import BadCell, RawRow, RawTable
from fleetstats.vocabulary.finding import Origin

CELLS: dict[str, list[Any]] = {
    "engine": ["E-1", "E-2", "e 2", "EXAMPLE", "Total", "", None, 7, "x" * 90, "E-3\x07"],
    "kind": ["reading", "installed", "Failed", "wear", "", None, "check", "boom"],
    "hours": ["0", "12.5", "812", "about 800", "800-900", "1,234", "x", "-3", "", None, 5, True,
              BadCell(shown="#REF!", why="error")],
    "date": ["2020-01-02", "2021-03-04", "spring 2020", "2020", "03/04/2021", "?", None,
             dt.date(2020, 5, 6), dt.datetime(2020, 5, 6, 7)],
    "meter": ["hobbs", "tach", "", "zebra", None],
    "cause": ["piston", "B1", "n/a", "", "valve\ntrain", 3],
    "confirmed": ["yes", "no", "", "perhaps", True],
    "component": ["", "Turbo-Charger", "turbocharger"],
    "serial": ["", "T-1", "x" * 2100],
    "position": ["", "1", "No 1", "no-1", "_", 1],
    "build": ["", "I", "ii"],
    "since_new_hours": ["", "100", "x"],
    "cost": ["", "12", "-5", "dear"],
    "note": ["", "crack", "fine", "Summe"],
    "use": ["", "tow", "school", None],
}  # fmt: skip
"""What may stand in each column of a log, sound and odd."""

PLAIN = {"engine": "E-1", "kind": "reading", "hours": "12.5", "date": "2020-01-02"}
SETTINGS = Settings(
    study=StudyKeys(title="x", analysis_date=dt.date(2025, 12, 31)),
    hours=HoursKeys(factors={"hobbs": [0.9, 0.8, 1.0]}),
    categories=CategoryKeys(columns=("use",)),
)


@st.composite
def one_row(draw: st.DrawFn) -> dict[str, Any]:
    """A row that is plain but for up to three cells."""
    row = dict.fromkeys(CELLS, "") | PLAIN
    names = draw(st.lists(st.sampled_from(sorted(CELLS)), max_size=3))
    return row | {n: draw(st.sampled_from(CELLS[n])) for n in names}


def read_both_ways(rows: list[dict[str, Any]], names: list[str], **marks: Any) -> Reading:
    """Read a log by columns and row by row, compare, and return it."""
    table = RawTable(
        file="log.csv", sheet="2020", header=tuple(names), delimiter=",",
        rows=tuple(RawRow(row=i, cells=tuple(r[n] for n in names))
                   for i, r in enumerate(rows, start=2)),
        **marks,
    )  # fmt: skip
    file = RecordFile(file="log.csv", shape="log", source="club", causes={"B1": "bearing"})
    by_columns = log_reader.read_log_events(table, file, SETTINGS)
    one_by_one = patch.object(
        log_reader, "read_plain_events", lambda table, *_: [None] * len(table.rows)
    )
    with one_by_one:
        by_rows = log_reader.read_log_events(table, file, SETTINGS)
    assert by_columns == by_rows
    assert [e.to_dict() for e in by_columns.events] == [e.to_dict() for e in by_rows.events]
    assert by_columns.trouble == by_rows.trouble
    return by_columns


@settings(max_examples=60, deadline=None)
@given(
    st.lists(one_row(), max_size=12),
    st.sets(st.sampled_from([n for n in CELLS if n not in ("engine", "kind")])),
)
def test_both_ways_of_reading_agree(rows: list[dict[str, Any]], left_out: set[str]) -> None:
    read_both_ways(rows, [n for n in CELLS if n not in left_out])


@pytest.mark.parametrize("name", sorted(CELLS))
def test_each_odd_cell_is_read_as_its_row_is_read(name: str) -> None:
    """Every cell of the pool beside every other of its column, in both orders."""
    plain = dict.fromkeys(CELLS, "") | PLAIN
    rows = [plain | {name: c} for c in CELLS[name]]
    read_both_ways(rows, list(CELLS))
    read_both_ways(rows[::-1], list(CELLS))


def test_what_the_table_tells_of_a_row_is_told_either_way() -> None:
    rows = [dict.fromkeys(CELLS, "") | PLAIN] * 8
    told = read_both_ways(
        rows, list(CELLS), short={3: 2}, long={4: 99}, merged=frozenset({5}),
        formulas=frozenset({6}), aside={7: ("owner", "a slip")},
    )  # fmt: skip
    assert {f.code for f in told.findings} == {
        "row-short", "row-long", "merged-cell", "formula-value", "mended-aside",
    }  # fmt: skip


def test_plain_rows_are_read_by_columns() -> None:
    """Else the other tests compare a way with itself."""
    rows = [dict.fromkeys(CELLS, "") | PLAIN] * 3
    seen: list[Any] = []

    def spied(*given: Any) -> list[LogEvent | None]:
        seen.extend(read_plain_events(*given))
        return list(seen)

    with patch.object(log_reader, "read_plain_events", spied):
        read_both_ways([*rows, rows[0] | {"hours": "x"}], list(CELLS))
    assert [e is None for e in seen[:4]] == [False, False, False, True]


# -- many values at once


def test_many_values_are_what_each_would_be_alone() -> None:
    hours = [1.0, 2.0, 3.0]
    origin = Origin(file="log.csv", row=2)
    many = make_many(
        LogEvent, 3, {"origin": repeat(origin), "engine": ["A", "B", "C"], "hours": hours,
                      "kind": repeat("reading")},
    )  # fmt: skip
    alone = [
        LogEvent(origin=origin, engine=e, kind="reading", hours=h)
        for e, h in zip("ABC", hours, strict=True)
    ]
    assert many == alone
    assert many[0].categories is not many[1].categories


def test_many_values_need_what_one_needs() -> None:
    with pytest.raises(TypeError, match="No values of origin"):
        make_many(LogEvent, 1, {"engine": ["A"], "kind": ["reading"]})
    with pytest.raises(TypeError, match="no field tail"):
        make_many(Origin, 1, {"file": ["x"], "tail": ["y"]})
    with pytest.raises(TypeError, match="2 values of row for 1"):
        make_many(Origin, 1, {"file": ["x"], "row": [1, 2]})
    with pytest.raises(TypeError, match="made alone"):
        make_many(LifeRow, 0, {})
