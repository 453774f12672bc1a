"""Single cells: numbers as clubs write them, dates, yes and no."""

from __future__ import annotations

import datetime as dt
import math

import pytest

from fleetstats.tables.cells import (
    CellError,
    exact_text,
    find_day_first,
    find_decimal,
    parse_date,
    parse_flag,
    parse_number,
    text,
)
from fleetstats.tables.table import BadCell

NUMBERS = [
    ("812", ".", 812.0),
    (" 812.4 ", ".", 812.4),
    ("812,4", ",", 812.4),
    ("1,234.5", ".", 1234.5),
    ("1.234,5", ",", 1234.5),
    ("1,234,567", ".", 1234567.0),
    ("1 234.5", ".", 1234.5),
    ("1\u00a0234,5", ",", 1234.5),
    ("1\u202f234,5", ",", 1234.5),
    ("1'234.5", ".", 1234.5),
    ("812.4 h", ".", 812.4),
    ("812.4hrs", ".", 812.4),
    ("812 hours", ".", 812.0),
    ("1234:30", ".", 1234.5),
    ("0:45", ".", 0.75),
    ("1e3", ".", 1000.0),
    (".5", ".", 0.5),
    ("-3", ".", -3.0),
    ("\u22123", ".", -3.0),
    ("12,5", "mixed", 12.5),
    ("12.5", "mixed", 12.5),
    (812, ".", 812.0),
    (812.5, ",", 812.5),
    (dt.timedelta(hours=1234, minutes=30), ".", 1234.5),
    (dt.time(1, 30), ".", 1.5),
    (10**400, ".", math.inf),
    ("", ".", None),
    ("  ", ".", None),
    ("n/a", ".", None),
    ("-", ".", None),
    (None, ".", None),
    (float("nan"), ".", None),
]


@pytest.mark.parametrize(("cell", "decimal", "value"), NUMBERS, ids=repr)
def test_numbers_as_clubs_write_them(cell, decimal, value):
    assert parse_number(cell, decimal) == value


NOT_NUMBERS = [
    ("12,5", ".", "State decimal|state decimal"),
    ("12.5", ",", "state decimal"),
    ("1,23,456", ".", "Give digits"),
    ("1 2", ".", "Give digits"),
    ("12:75", ".", "Give digits"),
    ("1_000", ".", "Give digits"),
    ("٣", ".", "Give digits"),
    ("1,234", "mixed", "Use one decimal mark"),
    (True, ".", "Give digits"),
    (dt.datetime(2024, 5, 1), ".", "turned the number into a date"),
    (BadCell(shown="=A1", why="A formula without a stored value stands"), ".", "Type the value"),
    ("8�2", ".", "State the encoding"),
]


@pytest.mark.parametrize(("cell", "decimal", "advice"), NOT_NUMBERS, ids=repr)
def test_what_is_no_number_is_refused_with_advice(cell, decimal, advice):
    with pytest.raises(CellError) as e:
        parse_number(cell, decimal)
    assert any(a in e.value.advice for a in advice.split("|"))


DECIMALS = [
    (["12,5", "100"], ";", ","),
    (["12.5", "1,234"], ",", "."),
    (["1.234,5"], ";", ","),
    (["1,234.5"], ";", "."),
    (["1.234.567"], ";", ","),
    (["1,234,567"], ";", "."),
    (["12,5", "12.5"], ";", "mixed"),
    (["1,234"], ";", "ambiguous"),
    (["1.234"], ";", "ambiguous"),
    (["1.234"], ",", "."),
    (["0.125"], ";", "."),
    (["1234.567"], ";", "."),
    (["812", "abc", ""], ";", "."),
    ([812.5, None], "", "."),
    ([], ";", "."),
]


@pytest.mark.parametrize(("cells", "delimiter", "mark"), DECIMALS, ids=repr)
def test_the_decimal_mark_is_found_only_where_something_tells(cells, delimiter, mark):
    assert find_decimal(cells, delimiter) == mark


DAY = dt.date(2024, 4, 3)
DATES = [
    ("2024-04-03", None, DAY),
    ("2024/4/3", None, DAY),
    ("20240403", None, DAY),
    ("3.4.2024", None, DAY),
    ("03. 04. 2024", None, DAY),
    ("3 Apr 2024", None, DAY),
    ("03-April-2024", None, DAY),
    ("2024-04-03T10:00:00Z", None, DAY),
    ("2024-04-03 00:00:00", None, DAY),
    ("03/04/2024", True, DAY),
    ("04/03/2024", False, DAY),
    ("25/04/2024", None, dt.date(2024, 4, 25)),
    ("04/25/2024", None, dt.date(2024, 4, 25)),
    ("04/04/2024", None, dt.date(2024, 4, 4)),
    (dt.datetime(2024, 4, 3, 12), None, DAY),
    (DAY, None, DAY),
    ("", None, None),
    ("unknown", None, None),
]


@pytest.mark.parametrize(("cell", "day_first", "date"), DATES, ids=repr)
def test_dates_that_can_be_read_one_way_only(cell, day_first, date):
    assert parse_date(cell, day_first) == date


@pytest.mark.parametrize(
    ("cell", "code"),
    [
        ("03/04/2024", "date-ambiguous"),
        ("3.4.24", "date-ambiguous"),
        ("31.04.2024", "date-impossible"),
        ("25/25/2024", "date-impossible"),
        ("1066-10-14", "date-impossible"),
        (45000, "date-unreadable"),
        (45000.5, "date-unreadable"),
        ("spring 2024", "date-unreadable"),
        (dt.date(1804, 1, 1), "date-impossible"),
    ],
)
def test_other_dates_are_refused(cell, code):
    with pytest.raises(CellError) as e:
        parse_date(cell)
    assert e.value.code == code
    assert e.value.advice


def test_the_order_of_a_column_follows_its_telling_dates():
    assert find_day_first(["03/04/2024", "25/04/2024"]) is True
    assert find_day_first(["03/04/2024", "04/25/2024"]) is False
    assert find_day_first(["03/04/2024"]) is None
    assert find_day_first(["25/04/2024", "04/25/2024"]) is None


@pytest.mark.parametrize(
    ("cell", "value"),
    [("Yes", True), ("y", True), ("1", True), ("ja", True), (True, True), ("no", False),
     ("0", False), ("nein", False), (False, False), ("", None), ("?", None), ("unknown", None)],
)  # fmt: skip
def test_yes_no_and_nobody_knows(cell, value):
    assert parse_flag(cell) is value


def test_text_is_cleaned_but_not_changed():
    assert text("  a\tb\n c ") == "a b c"
    assert text("\x00\x07x\u202e") == "x"
    assert text(12.0) == "12"
    assert text(12.5) == "12.5"
    assert text(None) == ""
    assert text(dt.datetime(2024, 4, 3)) == "2024-04-03"
    assert text("<script>") == "<script>"
    assert len(text("x" * 10_000)) == 2_000


def test_the_hint_writes_numbers_as_the_file_does():
    for decimal, shown in ((",", "1234,5"), (".", "1234.5")):
        with pytest.raises(CellError) as refused:
            parse_number("1.234.5", decimal)
        assert refused.value.advice == f"Give digits, as {shown}."


@pytest.mark.parametrize(
    ("cell", "shown"),
    [
        (192125.4999999999, "192125.5"),
        (0.1 + 0.2, "0.3"),
        (1234.5, "1234.5"),
        (812.0, "812"),
        (1234567.891234, "1234567.891234"),  # more digits than 10, and somebody wrote them
        (1.0 / 3.0, "0.3333333333333333"),
        (-0.30000000000000004, "-0.3"),
        (math.inf, "inf"),
    ],
)
def test_a_float_is_shown_without_what_only_its_storage_adds(cell: float, shown: str) -> None:
    """IEEE 754 doubles hold no tenth; the shares are our own choice, no source."""
    assert text(cell) == shown
    assert float(exact_text(cell)) == cell
