"""The last year beside the year before, worked out by hand on four lives.

As of 31 December 2025 (ordinal day D): the last year is the 365 days (D-365, D], the year before
(D-730, D-365].

- A followed from new, in service on D-730, running at D with 730 h: 1 h a day, 365 h in each year.
- B in service on D-1000, heard of at 500 h on D-500, failed on D-100 at 900 h: 1 h a day from
  D-500 on; 135 h and no failure before (D-500 to D-365), 265 h and its failure in the last year.
- C stands for 2 engines; in service on D-930, failed on D-430 at 1,000 h: 2 h a day; from D-730 to
  D-430 2 x 600 h and 2 failures in the year before.
- D has no dates.

So the last year has 1 failure in 365 + 265 = 630 h, the year before 2 in 365 + 135 + 1200 =
1,700 h. Given 3 failures in all, the last year's count is binomial with share 630/2330; P(at
least 1) is 1 - (1700/2330)^3.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fleetstats.core.errors import SpellError
from fleetstats.portfolio.years import compare_years
from fleetstats.records.life import LifeRow
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings, StudyKeys
from fleetstats.survival.families.families import fit_family
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.vocabulary.finding import Origin

D = dt.date(2025, 12, 31)


def ago(days: int) -> dt.date:
    return D - dt.timedelta(days=days)


def row(engine: str, exit_h: float, ending: str, **more: Any) -> LifeRow:
    return LifeRow(origin=Origin(file="x.csv", row=2), engine=engine, exit_h=exit_h, ending=ending,
                   **more)  # fmt: skip


ROWS = (
    row("A", 730.0, "running", in_service=ago(730), last_reading=D),
    row("B", 900.0, "failed", entry_h=500.0, in_service=ago(1000), observed_from=ago(500),
        ended=ago(100)),
    row("C", 1000.0, "failed", in_service=ago(930), ended=ago(430), count=2),
    row("D", 800.0, "failed"),
)  # fmt: skip
SETTINGS = Settings(study=StudyKeys(title="x", analysis_date=D))


def spells_of(rows: tuple[LifeRow, ...] = ROWS) -> Spells:
    return Spells.of(
        [r.entry_h for r in rows], [r.exit_h for r in rows], [r.ending == "failed" for r in rows],
        weight=[float(r.count) for r in rows],
    )  # fmt: skip


def test_hours_and_failures_fall_into_their_year() -> None:
    got = compare_years(ROWS, spells_of(), None, SETTINGS)
    assert (got.failed, got.failed_before) == (1.0, 2.0)
    assert got.hours == pytest.approx(630.0)
    assert got.hours_before == pytest.approx(1700.0)
    assert (got.n_undated, got.undated_failed) == (1.0, 1.0)
    assert got.ratio == pytest.approx((1 / 630) / (2 / 1700))
    assert got.p_worse == pytest.approx(1 - (1700 / 2330) ** 3)
    assert got.p_worse_at_age is None
    assert got.sentence == (
        "In the last year 1 failure in 630 h, in the year before 2 failures in 1,700 h, 1.3 times "
        "the rate; 1 life without dates, in neither."
    )


def test_at_equal_age_failures_are_expected_by_the_fit() -> None:
    """With a constant rate age does not matter: both comparisons agree."""
    s = spells_of()
    got = compare_years(ROWS, s, fit_family(s, "exponential"), SETTINGS)
    assert got.p_worse_at_age == pytest.approx(got.p_worse, rel=1e-12)
    # A from 365 to 730 h and B from 635 to 900 h in the last year; before it A to 365 h, B from 500
    # to 635 h and C's two from 400 to 1,000 h: each expects age^shape to rise by so much
    fit = fit_weibull(s)
    b = fit.shape
    now = 730**b - 365**b + 900**b - 635**b
    before = 365**b + 635**b - 500**b + 2 * (1000**b - 400**b)
    at_age = compare_years(ROWS, s, fit, SETTINGS).p_worse_at_age
    assert at_age == pytest.approx(1 - (before / (now + before)) ** 3)


def test_a_life_heard_of_late_without_a_date_ran_evenly_since_new() -> None:
    late = (replace(ROWS[1], observed_from=None),)
    got = compare_years(late, spells_of(late), None, SETTINGS)
    # 900 h in 900 days: entry at 500 h is day D-500, so nothing differs from B above
    assert got.hours == pytest.approx(265.0)
    assert got.hours_before == pytest.approx(135.0)


def test_no_failure_in_either_year_is_no_comparison() -> None:
    got = compare_years(ROWS[:1], spells_of(ROWS[:1]), None, SETTINGS)
    assert got.p_worse is None
    assert got.ratio is None
    assert "cannot be compared" in got.sentence


def test_a_failure_on_the_last_day_of_the_year_before_belongs_to_it() -> None:
    edge = (ROWS[0], replace(ROWS[1], ended=ago(365)))
    got = compare_years(edge, spells_of(edge), None, SETTINGS)
    assert (got.failed, got.failed_before) == (0.0, 1.0)


def test_rows_belong_to_spells() -> None:
    with pytest.raises(SpellError, match="3 rows stand beside 4 spells"):
        compare_years(ROWS[:3], spells_of(), None, SETTINGS)


def test_an_ageing_fleet_is_not_worse_at_equal_age() -> None:
    """200 engines put into service together, shape 3: the plain rate rises by age alone."""
    rng = np.random.default_rng(3)
    life = 2000.0 * rng.weibull(3.0, 200)
    seen = np.minimum(life, 730.0 * 1.5)
    rows = tuple(
        row(f"E{i}", float(h), "failed" if t <= 1095.0 else "running", in_service=ago(730),
            ended=ago(730 - max(1, int(h / 1.5))) if t <= 1095.0 else None, last_reading=D)
        for i, (t, h) in enumerate(zip(life, seen, strict=True))
    )  # fmt: skip
    s = Spells.of(np.zeros(200), seen, life <= 1095.0)
    got = compare_years(rows, s, fit_weibull(s), SETTINGS)
    assert got.p_worse is not None
    assert got.p_worse_at_age is not None
    assert got.p_worse < 0.01
    assert got.p_worse_at_age > 0.2


def test_the_last_year_against_all_earlier_years_is_counted_exactly() -> None:
    """Ten lives of 100 h, a year each: eight before the last year, two in it, which both failed.

    At 100 h two of ten lives passed in the last year: a failure falls there with the share 0.2, and
    both do with 0.04. The year before, alone, has one life and no failure.
    """
    rows = tuple(
        row(f"E{i}", 100.0, "failed" if i < 2 else "removed", in_service=ago(365 * i + 360),
            ended=ago(365 * i + 1))
        for i in (0, 0, 1, 2, 3, 4, 5, 6, 7, 8)
    )  # fmt: skip
    rows = tuple(
        replace(r, ending="failed" if k < 2 else "removed", engine=f"E{k}")
        for k, r in enumerate(rows)
    )
    s = Spells.of(np.zeros(10), np.full(10, 100.0), [k < 2 for k in range(10)])
    got = compare_years(rows, s, None, SETTINGS)
    assert got.p_risen == pytest.approx(0.04)
    assert compare_years(rows[2:], s.select(np.arange(2, 10)), None, SETTINGS).p_risen is None
