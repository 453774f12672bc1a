"""Clocks converted by hand: stated factors with their range, and engines' own."""

import datetime as dt

import numpy as np
import pytest

from fleetstats.core.errors import DataError
from fleetstats.records.clocks.clock_ends import rows_at_ends
from fleetstats.records.clocks.clocks import (
    convert_clock,
    estimate_factor,
    estimate_own_factors,
    rescale_clock,
)
from fleetstats.records.life import LifeRow
from fleetstats.records.log.clock_events import align_events, convert_logs
from fleetstats.records.log.log import replay_log
from fleetstats.records.log_event import LogEvent
from fleetstats.study.settings import HoursKeys, Settings, StudyKeys
from fleetstats.vocabulary.finding import Origin

STUDY = StudyKeys(title="made up", analysis_date=dt.date(2026, 1, 1))
HOBBS = {"hobbs": [0.9, 0.8, 0.95]}


def settings(factors=None):
    return Settings(study=STUDY, hours=HoursKeys(factors=HOBBS if factors is None else factors))


def row(engine, meter, exit_h, **more):
    return LifeRow(
        origin=Origin(file="a.csv", row=2), rows=(2,), engine=engine, exit_h=exit_h,
        ending="running", meter=meter, **more,
    )  # fmt: skip


def event(i, engine, day, hours, kind="reading", meter="flight", **more):
    return LogEvent(
        origin=Origin(file="log.csv", row=i), engine=engine, date=dt.date.fromisoformat(day),
        hours=hours, kind=kind, meter=meter, **more,
    )  # fmt: skip


def test_hours_convert_by_the_stated_factor_and_at_both_ends():
    """1,000 Hobbs hours are 900 flight hours, 800 at the low end and 950 at the high one."""
    rows = (row("A", "hobbs", 1000, entry_h=200, last_good_h=900.0), row("B", "flight", 1000))
    at = {end: convert_clock(rows, settings(), at=end).rows for end in ("low", "factor", "high")}
    assert [at[e][0].exit_h for e in at] == [800, 900, 950]
    assert [r.exit_h for r in (at["low"][1], at["high"][1])] == [1000, 1000]
    assert (at["factor"][0].entry_h, at["factor"][0].last_good_h) == (180, 810)
    again = rescale_clock(at["factor"], settings(), at="high").rows
    assert again[0].exit_h == pytest.approx(950)
    ends = rows_at_ends(at["factor"], settings())
    assert [r.exit_h for r in ends["low"]] == pytest.approx([800, 1000])


def test_no_range_and_no_other_meter_leave_nothing_to_run_twice():
    assert rows_at_ends((row("B", "flight", 1000),), settings()) == {}
    exact = settings({"hobbs": 0.9})
    assert rows_at_ends((row("A", "hobbs", 900),), exact) == {}


def test_a_meter_without_a_factor_is_refused():
    c = convert_clock((row("A", "tach", 1000), row("B", "flight", 10)), settings())
    assert [r.engine for r in c.rows] == ["B"]
    f = c.findings[0]
    assert (f.code, f.action, f.value, f.row) == ("clock-without-factor", "stop", "tach", 2)
    assert [(s.row, s.reason) for s in c.set_aside] == [(2, "clock-without-factor")]
    with pytest.raises(DataError, match="middle"):
        convert_clock((), settings(), at="middle")


def test_two_meters_side_by_side_give_the_engine_its_own_factor():
    """Hobbs 0 100 300 500, flight 0 88 272 448: 448 / 500 = 0.896.

    Increments 88, 184, 176 against 100, 200, 200 leave -1.6, 4.8, -3.2; squared over the
    increments 0.0256 + 0.1152 + 0.0512 = 0.192; over 2 degrees and 500 h, 0.000192; t at 90 % on
    2 degrees is 2.9200, so the half width is 0.04046.
    """
    f = estimate_factor([0, 100, 300, 500], [0, 88, 272, 448])
    assert f.factor == pytest.approx(0.896)
    assert f.high - f.factor == pytest.approx(0.0404603, abs=1e-6)
    assert f.factor - f.low == pytest.approx(0.0404603, abs=1e-6)
    assert f.n == 4


def test_an_own_factor_is_never_surer_than_its_meters():
    f = estimate_factor([0, 10, 20], [0, 9, 18])
    assert f.high > f.factor > f.low
    assert f.high - f.factor == pytest.approx(1.6449 * 0.1 * np.sqrt(1.81 / 6) / 20, rel=1e-3)


def test_own_factor_covers_as_it_says():
    """90 % intervals from six readings of a ratio of 0.87 with noise: 2,000 made engines."""
    rng = np.random.default_rng(5)
    dx = rng.uniform(20, 80, size=(2000, 5))
    dy = 0.87 * dx + rng.normal(size=dx.shape) * 0.3 * np.sqrt(dx)
    x = np.cumsum(np.c_[np.zeros(2000), dx], axis=1)
    y = np.cumsum(np.c_[np.zeros(2000), dy], axis=1)
    held = [(f := estimate_factor(a, b)).low <= 0.87 <= f.high for a, b in zip(x, y, strict=True)]
    # Three binomial standard errors of 0.90 at 2,000 are 0.020.
    assert np.mean(held) == pytest.approx(0.90, abs=0.020)


@pytest.mark.parametrize(
    ("x", "y"),
    [([0, 10], [0, 9]), ([0, 10, 5], [0, 9, 12]), ([0, 10, 20], [0, 9, 9]), ([0, 1, np.nan],) * 2],
)
def test_double_readings_that_cannot_be_are_refused(x, y):
    with pytest.raises(DataError):
        estimate_factor(x, y)


TWO_METERS = (
    event(2, "A", "2020-01-01", 0, "installed"),
    event(3, "A", "2021-01-01", 90),
    event(4, "A", "2021-01-01", 1100, meter="hobbs"),
    event(5, "A", "2022-01-01", 1300, meter="hobbs"),
    event(6, "A", "2023-01-01", 270),
)


def test_a_second_meter_is_anchored_where_both_were_read():
    """Hobbs 1,100 is flight 90; 200 Hobbs hours on, at 0.9, flight shows 270."""
    a = align_events(TWO_METERS, settings())
    assert [e.hours for e in a.events] == pytest.approx([0, 90, 90, 270, 270])
    assert a.findings == ()
    r = replay_log(a.events, settings())
    assert [(x.entry_h, x.exit_h) for x in r.rows] == [(0, pytest.approx(270))]
    assert sorted(n for x in r.rows for n in x.rows) == [2, 3, 4, 5, 6]


def test_a_second_meter_never_read_beside_the_first_is_told():
    a = align_events((TWO_METERS[0], TWO_METERS[3]), settings())
    assert [f.code for f in a.findings] == ["clock-started-together"]
    assert a.events[1].hours == pytest.approx(1170)
    a = align_events((TWO_METERS[0], TWO_METERS[3]), settings({}))
    assert [f.code for f in a.findings] == ["clock-without-factor"]
    assert [s.row for s in a.set_aside] == [5]


def double(engine, ratio):
    out = []
    for k, year in enumerate((2020, 2021, 2022, 2023)):
        hobbs = 300.0 + 200.0 * k
        out.append(event(10 + k, engine, f"{year}-01-01", hobbs, meter="hobbs"))
        out.append(event(20 + k, engine, f"{year}-01-01", 50.0 + ratio * 200.0 * k))
    return out


def test_a_log_gives_own_factors_and_says_when_they_leave_the_stated_range():
    own, findings = estimate_own_factors([*double("A", 0.85), *double("B", 0.6)], settings())
    assert [(f.engine, round(f.factor, 6), f.n) for f in own] == [("A", 0.85, 4), ("B", 0.6, 4)]
    assert [(f.code, f.engine) for f in findings] == [("clock-outside-range", "B")]
    rows = (row("a", "hobbs", 1000), row("C", "hobbs", 1000))
    assert [r.exit_h for r in convert_clock(rows, settings(), own=own).rows] == [850, 900]


def test_two_double_readings_are_too_few_for_an_own_factor():
    own, findings = estimate_own_factors(double("A", 0.85)[:4], settings())
    assert own == ()
    assert [f.code for f in findings] == ["clock-no-own-factor"]


def test_logs_convert_whole():
    r = replay_log(
        (
            event(2, "A", "2020-01-01", 0, "installed", meter="hobbs"),
            event(3, "A", "2021-01-01", 500, "finding", meter="hobbs"),
            event(4, "A", "2022-01-01", 1000, meter="hobbs"),
        ),
        settings(),
    )
    log = convert_logs(r.logs, settings())[0]
    assert log.stretches[0][:2] == (0, 900)
    assert [h for _, h, _ in log.steps] == pytest.approx([0, 450, 900])
    assert convert_logs(r.logs, settings({})) == ()
