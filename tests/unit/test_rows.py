"""The row engine: what a schema says of a cell, and what is found where it says no."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from fleetstats.records.condition.bench_records import bench_cells
from fleetstats.records.condition.checks import CHECK_CELLS
from fleetstats.records.condition.leakdown import leakdown_cells
from fleetstats.records.lives.life_cells import life_cells, more_cells
from fleetstats.records.log.log_cells import log_cells
from fleetstats.records.log.log_reader import read_log_events
from fleetstats.records.rows.meaning import Meaning, Ways, read_cell
from fleetstats.records.rows.reader import RowReader
from fleetstats.records.rows.row import RowInHand, by_need
from fleetstats.study.category_settings import GroupKeys
from fleetstats.study.condition_settings import LeakdownKeys
from fleetstats.study.settings import Settings, StudyKeys
from fleetstats.study.study import RecordFile
from fleetstats.tables.cells import CellError
from fleetstats.tables.columns import ColumnMatch
from fleetstats.tables.table import BadCell, RawRow, RawTable
from fleetstats.vocabulary.fields.bench import BENCH_FIELDS
from fleetstats.vocabulary.fields.checks import CHECK_FIELDS
from fleetstats.vocabulary.fields.leakdown import LEAKDOWN_FIELDS
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.finding import make_finding

FILE = RecordFile(file="rows.csv", shape="log", source="club")
KEYS = Settings(
    study=StudyKeys(title="x", analysis_date=dt.date(2025, 12, 31)),
    groups=GroupKeys(covariates=("boost",)),
)
SHAPES = {
    "lives": ((*life_cells(FILE, KEYS), *more_cells(FILE, KEYS)), LIFE_FIELDS),
    "log": (log_cells(FILE, KEYS), LOG_FIELDS),
    "checks": (CHECK_CELLS, CHECK_FIELDS),
    "leakdown": (leakdown_cells(LeakdownKeys()), LEAKDOWN_FIELDS),
    "bench": (bench_cells("h"), BENCH_FIELDS),
}
WAYS = Ways(decimal=".", day_first=True)
ODD = (None, "", "n/a", "?!", "x" * 3000, "-1e300", "1e300", "2.5", "0", "=1", "2024-02-30",
       "overhauled", "inf", BadCell(shown="#REF!", why="An error stands"), True, 1.5)  # fmt: skip


@pytest.mark.parametrize("shape", SHAPES)
def test_whatever_a_cell_holds_it_is_a_value_or_a_finding_of_the_catalogue(shape: str) -> None:
    told = {"supply": 80.0}
    keys = set()
    for m in SHAPES[shape][0]:
        for cell in ODD:
            try:
                read_cell(m, WAYS, cell, told)
            except CellError as e:
                found = make_finding(e.key, **e.fields)  # raises where a field is not given
                keys.add(e.key)
                assert found.message.strip()
    named = {k for m in SHAPES[shape][0] for k in (m.missing, m.impossible) if k}
    assert named <= keys  # each was met, so that none stands there unused


@pytest.mark.parametrize("shape", SHAPES)
def test_a_schema_says_of_each_column_what_it_means(shape: str) -> None:
    schema, columns = SHAPES[shape]
    said = [m.name for m in schema]
    assert len(set(said)) == len(said)
    unread = {c.name for c in columns} - set(said)
    # the number of a call only says that the line is one (`check_unanswered`)
    bare = {"leakdown": {"note"}, "bench": {"note"}, "lives": {"call"}}
    assert unread == bare.get(shape, set())


def test_limits_are_in_hours_whatever_the_unit() -> None:
    hours = next(m for m in SHAPES["lives"][0] if m.name == "exit_hours")
    minutes = replace(WAYS, unit="min")
    assert read_cell(hours, minutes, "6000000") == 100_000.0
    with pytest.raises(CellError) as e:
        read_cell(hours, minutes, "6000060")
    assert e.value.key == "hours-impossible/cell"
    assert read_cell(hours, minutes, "812 h") == 812.0


def test_a_limit_may_be_the_value_of_another_column() -> None:
    reading = next(m for m in SHAPES["leakdown"][0] if m.name == "reading")
    assert read_cell(reading, WAYS, "75", {"supply": 75.0}) == 75.0
    with pytest.raises(CellError) as e:
        read_cell(reading, WAYS, "75.1", {"supply": 75.0})
    found = make_finding(e.value.key, **e.value.fields)
    assert found.advice == "A reading lies between 0 and the supply of 75 psi."


def in_hand(names: list[str], cells: list[str]) -> RowInHand:
    at = {n: i for i, n in enumerate(names)}
    return RowInHand(
        table=RawTable(file="rows.csv", header=tuple(names), rows=()),
        row=RawRow(row=2, cells=tuple(cells)),
        match=ColumnMatch(
            index=at, shown=dict(zip(names, names, strict=True)), unused=(), findings=(),
            usable=True,
        ),
        handle=by_need,
    )  # fmt: skip


@pytest.mark.parametrize(("first_only", "n"), [(True, 1), (False, 2)])
def test_a_row_is_looked_at_to_its_end_unless_the_first_trouble_is_enough(
    first_only: bool, n: int
) -> None:
    schema = (
        Meaning("a", "number", what="stress", missing="stress-missing"),
        Meaning("b", "number", what="life", missing="life-missing"),
    )
    row = in_hand(["a", "b"], ["", ""])
    RowReader(schema, row.match.index, WAYS, first_only=first_only).read(row)
    assert [f.code for f in row.findings] == ["stress-missing", "life-missing"][:n]
    assert (row.broken, row.message) == ("stress-missing", "There is no stress.")


def test_a_soft_cell_leaves_the_row_in() -> None:
    schema = (Meaning("day", "date", soft=True), Meaning("a", "number", blank=7.0))
    row = in_hand(["day", "a"], ["soon", ""])
    reader = RowReader(schema, row.match.index, WAYS)
    told = reader.read(row)
    assert told == {"a": 7.0}
    assert not row.findings
    reader.read_soft(row, told)
    assert told == {"a": 7.0, "day": None}
    assert [(f.code, f.action) for f in row.findings] == [("date-unreadable", "accept")]
    assert not row.broken


def test_an_event_with_a_remark_is_read_as_an_ending_with_one_is() -> None:
    """Both are words of a fixed list; a remark in brackets is no part of them."""
    table = RawTable(
        file="rows.csv", header=("engine", "kind", "hours"), delimiter=",",
        rows=(RawRow(row=2, cells=("E-1", "Failed (in cruise)", "812")),),
    )  # fmt: skip
    assert [e.kind for e in read_log_events(table, FILE, KEYS).events] == ["failed"]


def test_a_row_hints_at_the_same_whatever_rows_were_read_before_it() -> None:
    """Words that say nothing are remembered; a note beside them is read in each row."""
    said: list[tuple[object, ...]] = [
        ("E-1", kind, hours, cause, confirmed, note)
        for kind in ("reading", "removed", "?!", None)
        for hours in ("812", "1200")
        for cause in ("", "piston", "annual")
        for confirmed in ("", "yes")
        for note in ("", "2024-03-01", "crack in case 2", "no crack found", None, 3.5)
    ]
    header = ("engine", "kind", "hours", "cause", "confirmed", "note")
    rows = tuple(RawRow(row=i, cells=cells) for i, cells in enumerate(said, start=2))

    def trouble_of(some: tuple[RawRow, ...]) -> list[tuple[object, ...]]:
        table = RawTable(file="rows.csv", header=header, delimiter=",", rows=some)
        return [(x.row, x.grade, x.words) for x in read_log_events(table, FILE, KEYS).trouble]

    alone = [x for r in rows for x in trouble_of((r,))]
    assert len(alone) > 100
    assert trouble_of(rows) == alone
    assert sorted(trouble_of(rows[::-1]), key=lambda x: x[0]) == alone
