"""Words for numbers and dates: each a stated interval, or not understood.

What a word of each language means is from memory; the rule for "about" is our own (no source).
"""

from __future__ import annotations

import datetime as dt
import math
import re
from pathlib import Path

import pytest

from fleetstats.tables.cells import CellError, find_day_first, find_decimal, parse_date
from fleetstats.tables.doubt import half_place, read_figure_doubt
from fleetstats.tables.doubt_days import read_day_doubt
from fleetstats.vocabulary.limits import ABOUT_SHARE, SHORT_YEARS_BACK

D = dt.date
UNTIL = D(2026, 11, 30)
FIGURES = [
    # about: half the place of the last digit that is not 0, or 5 % where that is more
    ("approx 800", 750, 850, "about"), ("Approx. 800 h", 750, 850, "about"),
    ("~1050", 997.5, 1102.5, "about"), ("ca. 900", 850, 950, "about"),
    ("about 950", 902.5, 997.5, "about"), ("circa 700", 650, 750, "about"),
    ("c. 800", 750, 850, "about"), ("± 800", 750, 850, "about"),
    ("approx 1,200", 1140, 1260, "about"),
    ("800 approx", 750, 850, "about"), ("800 (approx.)", 750, 850, "about"),
    ("about 1000", 500, 1500, "about"), ("about 812.5", 771.875, 853.125, "about"),
    ("ungefähr 800", 750, 850, "about"), ("fast 800 Std.", 750, 850, "about"),
    ("environ 800 heures", 750, 850, "about"), ("à peu près 800", 750, 850, "about"),
    ("alrededor de 800", 750, 850, "about"), ("quasi 800 ore", 750, 850, "about"),
    ("ongeveer 800 uur", 750, 850, "about"),
    # at least
    (">1500", 1500, math.inf, "at-least"), ("1500+", 1500, math.inf, "at-least"),
    ("over 1500", 1500, math.inf, "at-least"), ("at least 1,500 h", 1500, math.inf, "at-least"),
    (">= 1500", 1500, math.inf, "at-least"), ("1500 or more", 1500, math.inf, "at-least"),
    ("mehr als 1500", 1500, math.inf, "at-least"), ("über 1500", 1500, math.inf, "at-least"),
    ("plus de 1 500 h", 1500, math.inf, "at-least"), ("au moins 1500", 1500, math.inf, "at-least"),
    ("más de 1500", 1500, math.inf, "at-least"), ("oltre 1500", 1500, math.inf, "at-least"),
    ("meer dan 1500", 1500, math.inf, "at-least"), ("2.5k+", 2450, math.inf, "at-least"),
    # at most
    ("<300", 0, 300, "at-most"), ("up to 300", 0, 300, "at-most"), ("bis 300", 0, 300, "at-most"),
    ("moins de 300", 0, 300, "at-most"), ("menos de 300", 0, 300, "at-most"),
    ("meno di 300", 0, 300, "at-most"), ("minder dan 300", 0, 300, "at-most"),
    # ranges
    ("1200-1300", 1200, 1300, "range"), ("1200 to 1300", 1200, 1300, "range"),
    ("1200 – 1300 hrs", 1200, 1300, "range"), ("between 1200 and 1300", 1200, 1300, "range"),
    ("zwischen 1200 und 1300", 1200, 1300, "range"), ("de 1200 à 1300", 1200, 1300, "range"),
    ("entre 1200 y 1300", 1200, 1300, "range"), ("tra 1200 e 1300", 1200, 1300, "range"),
    ("tussen 1200 en 1300", 1200, 1300, "range"), ("1200 or 1300", 1200, 1300, "range"),
    ("1000 ± 50", 950, 1050, "range"), ("1000 +/- 5 %", 950, 1050, "range"),
    ("ca. 1200-1300", 1140, 1365, "range"), ("1.2k-1.4k", 1150, 1450, "range"),
    # thousands
    ("1.2k", 1150, 1250, "thousands"), ("1.25 k h", 1245, 1255, "thousands"),
]  # fmt: skip
NO_FIGURES = [
    "", "lots", "twelve", "800?", "-5", "1200-50", "1200-1200", "1-2k", "approx 1.200", "E-1200",
    "about 0", "1200 and 1300", "approx", "> approx 800", "007-800", "2024-05-01", "approx 800 TBC",
    "12_0", "0x10", "NaN", "1200/1300", "about " + "1" * 70,
]  # fmt: skip


@pytest.mark.parametrize(("cell", "low", "high", "how"), FIGURES)
def test_words_for_hours_are_intervals(cell: str, low: float, high: float, how: str) -> None:
    told = read_figure_doubt(cell, ".")
    assert told is not None
    assert (told.low, told.high, told.how) == (pytest.approx(low), pytest.approx(high), how)


@pytest.mark.parametrize("cell", NO_FIGURES)
def test_what_is_not_understood_is_no_number(cell: str) -> None:
    assert read_figure_doubt(cell, ".") is None


def test_the_decimal_mark_of_the_file_holds_within_words() -> None:
    told = read_figure_doubt("mehr als 1.500", ",")
    assert told is not None
    assert told.low == 1500.0
    assert read_figure_doubt("mehr als 1,500", ",") is None  # told to thousandths, or thousands?
    assert find_decimal(["ca. 1.200,5 h"]) == ","
    assert find_decimal(["approx 1,200"], ";") == "ambiguous"


@pytest.mark.parametrize(
    ("figure", "half"), [(800.0, 50.0), (1050.0, 5.0), (1234.0, 0.5), (0.5, 0.05), (1e5, 5e4)]
)
def test_half_the_place_of_the_last_digit(figure: float, half: float) -> None:
    assert half_place(figure) == pytest.approx(half)
    told = read_figure_doubt(f"about {figure:.10g}", ".")
    assert told is not None
    assert figure - told.low == pytest.approx(max(half, ABOUT_SHARE * figure))


DAYS = [
    ("May 2023", D(2023, 5, 1), D(2023, 5, 31), "month"),
    ("12/2013", D(2013, 12, 1), D(2013, 12, 31), "month"),
    ("2013-12", D(2013, 12, 1), D(2013, 12, 31), "month"),
    ("2012-02", D(2012, 2, 1), D(2012, 2, 29), "month"),
    ("Mai-23", D(2023, 5, 1), D(2023, 5, 31), "month"),
    ("März 2019", D(2019, 3, 1), D(2019, 3, 31), "month"),
    ("août 2019", D(2019, 8, 1), D(2019, 8, 31), "month"),
    ("enero de 2019", D(2019, 1, 1), D(2019, 1, 31), "month"),
    ("settembre 2019", D(2019, 9, 1), D(2019, 9, 30), "month"),
    ("mrt 2019", D(2019, 3, 1), D(2019, 3, 31), "month"),
    ("early May 2019", D(2019, 5, 1), D(2019, 5, 31), "month"),
    ("Q2 2021", D(2021, 4, 1), D(2021, 6, 30), "quarter"),
    ("3. Quartal 2020", D(2020, 7, 1), D(2020, 9, 30), "quarter"),
    ("2010", D(2010, 1, 1), D(2010, 12, 31), "year"),
    (2010, D(2010, 1, 1), D(2010, 12, 31), "year"),
    ("2010/11", D(2010, 1, 1), D(2011, 12, 31), "year"),
    ("2010-2011", D(2010, 1, 1), D(2011, 12, 31), "year"),
    ("2026", D(2026, 1, 1), UNTIL, "year"),
    ("2027", D(2027, 1, 1), D(2027, 12, 31), "year"),
    ("ca. 2010", D(2009, 1, 1), D(2011, 12, 31), "about"),
    ("about 3.4.2019", D(2019, 3, 19), D(2019, 4, 18), "about"),
    ("3.4.85", D(1985, 4, 3), D(1985, 4, 3), "short-year"),
    ("30.11.26", D(2026, 11, 30), D(2026, 11, 30), "short-year"),
    ("13/04/21", D(2021, 4, 13), D(2021, 4, 13), "short-year"),
    ("3-Apr-21", D(2021, 4, 3), D(2021, 4, 3), "short-year"),
    ("29.02.00", D(2000, 2, 29), D(2000, 2, 29), "short-year"),
]


@pytest.mark.parametrize(("cell", "low", "high", "how"), DAYS)
def test_words_for_dates_are_spans(cell: object, low: dt.date, high: dt.date, how: str) -> None:
    told = read_day_doubt(cell, None, UNTIL)
    assert told is not None
    assert (told.low, told.high, told.how) == (low, high, how)
    assert low <= told.middle <= high


@pytest.mark.parametrize(
    "cell",
    ["", "spring", "before 2010", "12/13", "May 23", "03/04/21", "1.12.26", "1.1.30", "30.2.21",
     43000, 2010.5, True, "Foo 2010", "1899", "13/2010"],
)  # fmt: skip
def test_what_is_not_understood_is_no_date(cell: object) -> None:
    """A short year is never one after the analysis date, nor one over eighty years before it."""
    assert read_day_doubt(cell, None, UNTIL) is None


def test_a_short_year_needs_an_analysis_date() -> None:
    assert read_day_doubt("3.4.85", None, None) is None
    oldest = UNTIL.year - SHORT_YEARS_BACK
    told = read_day_doubt(f"1.12.{oldest % 100:02d}", None, UNTIL)
    assert told is not None
    assert told.low.year == oldest
    assert read_day_doubt(f"1.12.{(oldest - 1) % 100:02d}", None, UNTIL) is None


def test_the_order_of_short_dates_is_settled_as_that_of_long_ones() -> None:
    assert find_day_first(["03/04/21", "25/04/21"]) is True
    told = read_day_doubt("03/04/21", True, UNTIL)
    assert told is not None
    assert told.low == D(2021, 4, 3)


@pytest.mark.parametrize(
    "cell",
    ["3 mai 2021", "3. Mai 2021", "May 3, 2021", "3 de mayo de 2021", "3 maggio 2021", "3 mei 2021",
     "3rd of May 2021", "3-May-2021"],
)  # fmt: skip
def test_a_day_with_the_month_in_words_is_that_day(cell: str) -> None:
    assert parse_date(cell) == D(2021, 5, 3)
    with pytest.raises(CellError):
        parse_date(cell.replace("2021", "21x"))


def _told(head: str) -> list[list[str]]:
    """Return the cells of the table in the docs whose first column has a head."""
    page = Path(__file__).parents[2] / "reports" / "docs" / "messy-returns.md"
    tables = re.findall(r"(?m)^\|.+\|$(?:\n^\|.+\|$)+", page.read_text(encoding="utf-8"))
    return [
        [c.strip() for c in line.strip("|").split("|")]
        for line in next(t for t in tables if head in t.split("\n")[0]).split("\n")[2:]
    ]


def test_the_page_of_docs_says_how_words_are_read() -> None:
    n = 0
    for words, read_as, _ in _told("hours as written"):
        for word in re.findall("`(.+?)`", words):
            told = read_figure_doubt(word, ".")
            assert told is not None
            assert read_as in (f"{told.low:g} to {told.high:g}", f"{told.low:g} or more"), word
            n += 1
    for words, read_as, _ in _told("date as written"):
        for word in re.findall("`(.+?)`", words):
            day = read_day_doubt(word, None, UNTIL)
            assert day is not None
            assert read_as in (f"{day.low} to {day.high}", f"{day.low}"), word
            n += 1
    assert n >= 30
