"""Lives on the calendar: known days, days between limits, and exposure after a day."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from fleetstats.core.errors import SpellError
from fleetstats.core.seeds import stream
from fleetstats.records.life import LifeRow
from fleetstats.spells.calendar import build_calendar
from fleetstats.spells.days import lexis
from fleetstats.spells.days.dated import Dated, build_dated
from fleetstats.spells.days.lexis import LABELS, split_by_labels, split_exposure
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells
from fleetstats.vocabulary.finding import Origin

DAY = dt.date(2020, 1, 1).toordinal()


def made_fleet(n: int = 200, seed: int = 5) -> Dated:
    """Return a made-up fleet with late entries, failures known by intervals, weights and labels."""
    rng = stream(seed, "dated fleet")
    entry = np.where(rng.random(n) < 0.4, rng.uniform(0, 500, n), 0.0)
    exit_ = entry + rng.uniform(5, 900, n)
    failed = rng.random(n) < 0.3
    lower = np.where(failed & (rng.random(n) < 0.5), exit_ - rng.uniform(0, 50, n), exit_)
    begin = DAY + np.floor(rng.uniform(0, 2500, n))
    return Dated.of(
        Spells.of(
            entry,
            exit_,
            failed,
            exit_lower=np.maximum(lower, entry),
            cause=np.where(failed, rng.choice(["piston", "valve"], n), ""),
            build=rng.choice(["old", "new"], n),
            weight=rng.integers(1, 4, n),
        ),
        begin,
        begin + np.ceil((exit_ - entry) / rng.uniform(0.1, 1.0, n)) + 1,
    )


def row(**told: object) -> LifeRow:
    """Return a life of one engine with what is told of it."""
    base = LifeRow(origin=Origin(file="x.csv", row=2), engine="E1", exit_h=400.0, ending="running")
    return replace(base, **told)  # type: ignore[arg-type]


def dated_rows(rows: list[LifeRow], **more: object) -> Dated:
    spells = Spells.of(
        [x.entry_h for x in rows], [x.exit_h for x in rows], [x.ending == "failed" for x in rows]
    )
    return build_dated(rows, spells, **more)  # type: ignore[arg-type]


def used_evenly(n: int = 12) -> list[LifeRow]:
    """Return engines with both dates, flown 100 to 210 h a year."""
    start = dt.date(2015, 1, 1)
    return [
        row(
            engine=f"R{i}",
            in_service=start,
            last_reading=start + dt.timedelta(days=1461),
            exit_h=4.0 * (100 + 10 * i),
        )
        for i in range(n)
    ]


def test_since_by_hand():
    """600 h in 600 days: 200 h on day 200. A failure in (150, 300] may lie before: it is kept."""
    d = Dated.of(
        Spells.of(0, [600, 300, 100], [0, 1, 1], exit_lower=[600, 150, 100]),
        DAY,
        [DAY + 600, DAY + 300, DAY + 100],
    )
    s = d.since(DAY + 200)
    assert s.entry.tolist() == pytest.approx([200, 200], abs=1e-9)
    assert s.exit_lower.tolist() == pytest.approx([600, 200], abs=1e-9)
    assert s.n_failed == 1
    assert d.age_at(DAY - 5).tolist() == [0, 0, 0]
    assert d.age_at(DAY + 1e6).tolist() == [600, 300, 100]


def test_days_as_told():
    d = dated_rows(
        [
            row(in_service=dt.date(2018, 5, 1), last_reading=dt.date(2021, 5, 1)),
            row(
                engine="E2",
                entry_h=50.0,
                observed_from=dt.date(2019, 1, 1),
                in_service=dt.date(2018, 5, 1),
                ended=dt.date(2021, 5, 1),
            ),
        ]
    )
    assert d.exactly_dated.all()
    assert d.entry_day.tolist() == [
        dt.date(2018, 5, 1).toordinal(),
        dt.date(2019, 1, 1).toordinal(),
    ]


def test_heard_late_runs_evenly_since_its_start_between_limits_of_use():
    rows = [*used_evenly(), row(entry_h=100.0, in_service=dt.date(2018, 1, 1),
                                last_reading=dt.date(2021, 12, 31))]  # fmt: skip
    d = dated_rows(rows)
    born, end = dt.date(2018, 1, 1).toordinal(), dt.date(2021, 12, 31).toordinal()
    assert d.entry_day[-1] == pytest.approx(born + (end - born) * 0.25)
    assert born < d.entry_day_low[-1] <= d.entry_day[-1] <= d.entry_day_high[-1] < end


def test_one_date_is_carried_off_by_the_rates_of_the_others():
    """Usual use is 155 h a year (the middle of 100 … 210): 310 h take two years."""
    last = dt.date(2022, 6, 30)
    rows = [*used_evenly(), row(entry_h=90.0, last_reading=last)]
    d = dated_rows(rows)
    assert d.entry_day[-1] == pytest.approx(last.toordinal() - 2 * 365.25, abs=1.0)
    assert d.entry_day_low[-1] < d.entry_day[-1] - 100
    assert d.entry_day_high[-1] > d.entry_day[-1] + 50
    rows[-1] = row(in_service=dt.date(2021, 1, 1))
    until = dt.date(2022, 1, 1)
    held = dated_rows(rows, until=until)
    assert held.exit_day_high[-1] == until.toordinal()  # no day lies after the end of the study
    del rows[:3]
    assert dated_rows(rows).n_undated == 1  # nine engines give no rates


def test_parts_of_a_life_that_was_modified_share_the_day_between_them():
    whole = {"life": 0, "source": "club"}
    parts = [
        row(exit_h=100.0, ending="modified", in_service=dt.date(2018, 1, 1), **whole),
        row(entry_h=100.0, exit_h=400.0, last_reading=dt.date(2022, 1, 1), **whole),
    ]
    d = dated_rows(parts)
    met = dt.date(2018, 1, 1).toordinal() + 1461 / 4
    assert d.exit_day[0] == d.entry_day[1] == pytest.approx(met)


def test_lives_without_dates_or_with_contradictory_ones_are_counted():
    d = dated_rows(
        [
            row(count=3),
            row(engine="E2", in_service=dt.date(2021, 1, 1), last_reading=dt.date(2020, 1, 1)),
            row(engine="E3", in_service=dt.date(2019, 1, 1), last_reading=dt.date(2020, 1, 1)),
        ]
    )
    assert (len(d), d.n_undated, d.row.tolist()) == (1, 4, [2])


def test_carried_hours_reach_to_the_analysis_date():
    d = dated_rows(
        [row(carried_h=50.0, in_service=dt.date(2018, 1, 1), last_reading=dt.date(2020, 1, 1))],
        until=dt.date(2020, 6, 1),
    )
    assert d.exit_day[0] == dt.date(2020, 6, 1).toordinal()


def test_what_cannot_be_is_refused():
    s = Spells.of(0, [100], [0])
    with pytest.raises(SpellError, match="later than entry_day"):
        Dated.of(s, DAY, [DAY])
    with pytest.raises(SpellError, match="one for each life"):
        Dated.of(s, DAY, [DAY + 5, DAY + 6])
    with pytest.raises(SpellError, match="row of each spell"):
        build_dated([], s)
    with pytest.raises(SpellError, match="rising"):
        split_exposure(Dated.of(s, DAY, [DAY + 9]), [0, 0], [DAY, DAY + 9])


def test_at_limits_moves_open_days_only():
    d = Dated(
        spells=Spells.of(0, [100, 100], [0, 0]),
        entry_day_low=[DAY - 50, DAY],
        entry_day_high=[DAY + 50, DAY],
        exit_day_low=[DAY + 100, DAY + 100],
        exit_day_high=[DAY + 100, DAY + 100],
        row=[0, 1],
        n_undated=0,
    )
    assert d.entry_day.tolist() == [DAY, DAY]
    assert d.at_limits(late=False).entry_day.tolist() == [DAY - 50, DAY]
    assert d.at_limits(late=True).entry_day.tolist() == [DAY + 50, DAY]


@pytest.mark.parametrize("seed", range(5))
def test_since_the_first_day_is_everything(seed):
    d = made_fleet(seed=seed)
    assert d.since(d.span[0]) == d.spells
    assert len(d.since(d.span[1])) == 0


@pytest.mark.parametrize("by", ["", "cause", "build", "source"])
def test_cells_add_up(by):
    d = made_fleet()
    hours = np.linspace(0, d.spells.oldest_h + 1, 7)
    days = np.linspace(d.span[0], d.span[1], 9)
    _, exposure, failures = split_exposure(d, hours, days, by=by)
    total = exposure[0].sum() if by == "cause" else exposure.sum()
    assert total == pytest.approx(d.spells.exposure_h, rel=1e-12)
    assert failures.sum() == d.spells.n_failed


@pytest.mark.parametrize("by", ["", *LABELS])
def test_lives_cut_part_by_part_for_all_labels_are_those_cut_by_one(by, monkeypatch):
    d = made_fleet()
    hours = np.linspace(0, d.spells.oldest_h + 1, 7)
    days = np.linspace(d.span[0], d.span[1], 9)
    names, exposure, failures = split_exposure(d, hours, days, by=by)
    monkeypatch.setattr(lexis, "_AT_ONCE", 9)
    split = dict(zip(("", *LABELS), split_by_labels(d, hours, days, ("", *LABELS)), strict=True))
    assert split[by][0] == names
    assert split[by][1] == pytest.approx(exposure, rel=1e-12)
    assert np.array_equal(split[by][2], failures)


def test_cells_since_a_day_are_the_exposure_of_the_lives_since_then():
    d = made_fleet()
    exact = d.select(~d.spells.interval_known)
    day = DAY + 1500.5
    _, exposure, failures = split_exposure(exact, [0, 1e6], [day, exact.span[1]])
    after = exact.since(day)
    assert exposure.sum() == pytest.approx(after.exposure_h, rel=1e-12)
    assert failures.sum() == after.n_failed


def test_cells_by_counting_small_steps():
    """Each life stepped through in 2,000 steps: hours by cell within a step of each life."""
    d = made_fleet(30)
    hours, days = np.linspace(0, 1500, 5), DAY + np.linspace(0, 8000, 6)
    _, exposure, _ = split_exposure(d, hours, days)
    steps = (np.arange(2000) + 0.5) / 2000
    age = d.spells.entry[:, None] + steps * (d.end_h - d.spells.entry)[:, None]
    when = d.entry_day[:, None] + steps * (d.end_day - d.entry_day)[:, None]
    each = np.repeat(d.spells.weight * (d.end_h - d.spells.entry) / 2000, 2000)
    counted, _, _ = np.histogram2d(age.ravel(), when.ravel(), bins=(hours, days), weights=each)
    assert np.allclose(exposure[0], counted, atol=each.max() * 30)


def test_a_cause_that_nobody_had_has_no_cell():
    d = Dated.of(Spells.of(0, [100], [Event.CENSORED]), DAY, [DAY + 9])
    names, exposure, _ = split_exposure(d, [0, 100], [DAY, DAY + 9], by="cause")
    assert names == ()
    assert exposure.shape == (0, 1, 1)


def test_the_age_in_years_and_the_day_of_entry_are_one_rule():
    """A life heard of late, asked of both calendar views: even use since it began."""
    late = row(entry_h=100.0, in_service=dt.date(2018, 1, 1), last_reading=dt.date(2021, 12, 31))
    rows = [*used_evenly(), late]
    spells = Spells.of([x.entry_h for x in rows], [x.exit_h for x in rows], [False] * len(rows))
    years = build_calendar(rows, spells).entry_years[-1]
    day = build_dated(rows, spells).entry_day[-1]
    assert (day - dt.date(2018, 1, 1).toordinal()) / 365.25 == pytest.approx(years)
