"""Slips that turn the answer are named: dates for hours, lost decimal marks, digits missing.

Fleets are drawn from known laws; how often an honest one is named is measured here.
"""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import numpy as np
import pytest
from advice_fleets import made_settings

from fleetstats.advice.quoted import Quoter
from fleetstats.chapters.cautions.doubtful import bound_of, caution_far
from fleetstats.records.audit.far_lives import find_far_lives
from fleetstats.records.audit.slips import bare_beyond, date_serials, day_of_serial, say_meant
from fleetstats.records.life import LifeRow
from fleetstats.records.rules import judge_endings
from fleetstats.spells.build import spells_for
from fleetstats.spells.bulk.bulk import build_bulk
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.finding import Origin

DAY = dt.date(2025, 12, 31)
HEAD = "engine,exit_hours,ending,in_service_date,last_reading_date\n"
ROWS = "".join(
    f"K6-{k:03d},{90.7 + 61.3 * k:.1f},running,201{k % 7}-03-{k + 1:02d},2025-06-{k + 1:02d}\n"
    for k in range(20)
)
"""Twenty engines of 90.7 to 1,255.4 h, all with a tenth but one."""


def test_the_number_of_a_date_is_known_by_its_fleet():
    # 44300 is 2021-04-14 in any spreadsheet program (from memory); no fleet of 1,000 h has it
    assert day_of_serial(44300.0) == dt.date(2021, 4, 14)
    hours = np.array([100.0, 1000.0, 44300.0, 44300.5, 50000.0])
    # not whole, or after the analysis date
    assert date_serials(np.delete(hours, [3, 4]), DAY).tolist() == [False, False, True]
    assert not date_serials(np.array([100.0, 44300.5]), DAY).any()
    assert not date_serials(np.array([100.0, 50000.0]), DAY).any()
    # a fleet that lives so long has no slip; one of dates alone is all slips
    assert not date_serials(np.array([30000.0, 44300.0]), DAY).any()
    assert date_serials(np.array([43000.0, 44300.0]), DAY).all()


def test_a_lost_decimal_mark_is_known_by_tenths():
    marked = np.linspace(100.3, 1000.3, 19)
    for value, found in ((12500.0, False), (2500.0, True), (2500.5, False), (1900.0, False)):
        x = np.append(marked, value)
        # 12,500 is more than ten times the longest: another rule names it
        assert bare_beyond(x, x)[-1] == found
    whole = np.append(np.round(marked), 2500.0)
    assert not bare_beyond(whole, whole).any()


@pytest.mark.parametrize(
    ("hours", "part"), [(12500.0, "A tenth of it, 1,250 h"), (48000.0, "Were it minutes, 800 h")]
)
def test_what_a_number_may_have_been_meant_for(hours, part):
    assert part in say_meant(hours, 200.0, 900.0, 2000.0)
    assert say_meant(hours, 7000.0, 9000.0, 10000.0) == ""


def test_how_often_an_honest_fleet_is_named():
    """Steady risk, readings in tenths: a whole longest life twice the next, in few of 1,000."""
    rng = np.random.default_rng(17)

    def named(n: int) -> float:
        found = 0
        for _ in range(1000):
            x = np.round(rng.exponential(500.0, n), 1)
            found += bool(bare_beyond(x, x).any())
        return found / 1000

    assert named(30) < 0.01
    assert named(300) < 0.01

    def low(n: int) -> bool:
        """Rates of use with a spread of 2 (a log sd of 0.7), all lives failed."""
        days = rng.uniform(400.0, 8000.0, n)
        hours = np.exp(rng.normal(np.log(80.0), 0.7, n)) * days / 365.25
        return bool(find_far_lives(hours, days, np.ones(n, dtype=bool), DAY).low.far.any())

    assert np.mean([low(40) for _ in range(500)]) < 0.02


@pytest.mark.parametrize(
    ("row", "code", "part"),
    [
        ("K6-900,44300,failed,,\n", "hours-far", "the date 2021-04-14"),
        ("K6-900,44300,running,2003-01-01,2025-06-01\n", "hours-far", "the date 2021-04-14"),
        ("K6-900,12500,running,2003-01-01,2025-06-01\n", "hours-far", "A tenth of it, 1,250 h"),
        ("K6-900,3500,failed,,\n", "hours-far", "whole where the others have tenths"),
        ("K6-900,3500,running,2015-06-01,2025-06-01\n", "hours-far", "whole where the others"),
        ("K6-900,12.5,failed,2005-01-01,2025-06-01\n", "hours-low", "12.5 h, 7,456 days after"),
    ],
)
def test_each_slip_is_named_by_rows_and_by_chunks(audited, row, code, part):
    study, _, audit = audited(HEAD + ROWS + row, "[merge]\nreturns = false\n")
    (f,) = [x for x in audit.findings if x.code in ("hours-far", "hours-low")]
    assert (f.code, f.engine) == (code, "K6-900")
    assert part in f.message
    assert build_bulk(study).counts[code] == 1


def test_an_idle_engine_that_runs_is_no_slip(audited):
    row = "K6-900,12.5,running,2005-01-01,2025-06-01\n"
    assert "hours-low" not in {f.code for f in audited(HEAD + ROWS + row)[2].findings}


def _fleet(*more: tuple[float, str, int]) -> list[LifeRow]:
    lives = [(300.3 + 20.0 * k, "failed" if k % 3 == 0 else "running", 2010) for k in range(60)]
    return [
        LifeRow(
            origin=Origin(file="a.csv", row=k + 2), engine=f"K-{k}", exit_h=h, ending=ending,
            in_service=dt.date(year, 1, 1), last_reading=dt.date(2025, 1, 1),
        )
        for k, (h, ending, year) in enumerate([*lives, *more])
    ]  # fmt: skip


def test_slips_are_ranked_by_how_far_each_moves_the_answer():
    """Two failures with digits missing: the one at more hours weighs more at a claim near it."""
    rows = _fleet((31.3, "failed", 2010), (3.1, "failed", 2005))
    settings = made_settings(claim=800.0)
    spells = spells_for(tuple(rows), tuple(judge_endings(rows, settings)), settings)
    claim = SimpleNamespace(verdict=SimpleNamespace(claimed_h=800.0, accepted_failure=0.1))
    (c,) = caution_far(spells, rows, settings, claim)
    assert c.code == "low-failure"
    assert c.value != c.limit.removesuffix(" without")
    ranked = c.text.partition("most to least: ")[2]
    assert {"'K-60'", "'K-61'"} <= set(ranked.replace("(", " ").split())
    moved = [
        abs(_bound(spells, settings, claim) - _bound(spells, settings, claim, without=i))
        for i in (60, 61)
    ]
    first = "'K-60'" if moved[0] > moved[1] else "'K-61'"
    assert ranked.startswith(first)
    # an honest fleet gets no such caution
    rows = _fleet()
    spells = spells_for(tuple(rows), tuple(judge_endings(rows, settings)), settings)
    assert caution_far(spells, rows, settings, claim) == []


def _bound(spells, settings, claim, without: int | None = None) -> float:
    kept = spells if without is None else spells.select(np.arange(len(spells)) != without)
    return bound_of(Quoter.of(kept, try_fit(kept), settings), claim).figure
