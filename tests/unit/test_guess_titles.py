"""A title that says the day a sheet is of is the guess of the analysis date, with its reason.

Words of other languages are common practice, no source; the sheets are invented.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import openpyxl
import pytest

from fleetstats.records.guess.guess import Guess
from fleetstats.records.guess.study import guess_study

TODAY = dt.date(2026, 12, 31)
HEAD = ["Serial no", "Hours", "Status", "Last reading"]
ROWS = [[f"A-{i}", 400.5 + i, "running", dt.date(2026, 6, 1 + i)] for i in range(6)]


def date_of(folder: Path, *titles: list[object]) -> Guess:
    book = openpyxl.Workbook()
    for line in (*titles, [], HEAD, *ROWS):
        book.active.append(line)
    book.save(folder / "fleet.xlsx")
    settings = guess_study([folder / "fleet.xlsx"], today=TODAY).settings
    return next(g for g in settings if g.what == "study.analysis_date")


@pytest.mark.parametrize(
    "title",
    [
        "Engine list as of 30 Sep 2026",
        "Engines (as at 2026-09-30)",
        "Motorenliste, Stand: 30.09.2026",
        "Parc moteurs, état au 30 septembre 2026",
        "Relación de motores a fecha de 30 de septiembre de 2026",
        "Motori: situazione al 30 settembre 2026",
        "Motorenlijst, peildatum 30 september 2026 (concept)",
    ],
)
def test_a_title_with_its_day_is_read_in_six_languages(tmp_path: Path, title: str) -> None:
    told = date_of(tmp_path, [title])
    assert (told.value, told.sure) == ("2026-09-30", "likely")
    assert title in told.reason
    assert "row 1" in told.reason


def test_the_day_may_stand_in_the_next_cell(tmp_path: Path) -> None:
    assert date_of(tmp_path, ["Liste"], ["Stand:", None, dt.datetime(2026, 9, 30)]).value == (
        "2026-09-30"
    )


@pytest.mark.parametrize(
    "title",
    [
        "Club founded 30 Sep 2026",
        "Printed 30 Sep 2026",
        "Stand 4: 30 engines",
        "as of 31.12.2031",  # after the day of the run
        "as of 30 May 2026",  # before the last reading: written on since
        "Outstanding: 30.09.2026",
    ],
)
def test_a_day_that_nothing_calls_the_lists_own_is_not_taken(tmp_path: Path, title: str) -> None:
    assert date_of(tmp_path, [title]).value == "2026-06-06"
