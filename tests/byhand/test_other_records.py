"""The answer at both ends of the clocks, at earlier dates, and by years: small made fleets."""

import datetime as dt
from types import SimpleNamespace

import numpy as np
import pytest

from fleetstats.chapters.clocks_and_dates.compute import (
    advise_calendar,
    advise_clocks,
    advise_looking_back,
    run_rows,
)
from fleetstats.chapters.clocks_and_dates.section import (
    compose_calendar,
    compose_clock_range,
    compose_looking_back,
    compose_returns,
)
from fleetstats.records.life import LifeRow
from fleetstats.records.merging.merge import merge_returns
from fleetstats.records.rules import judge_ending
from fleetstats.spells.build import spells_of
from fleetstats.study.settings import HoursKeys, Settings, StudyKeys
from fleetstats.vocabulary.finding import Origin

NEW = dt.date(2015, 1, 1)
DAY = dt.date(2026, 1, 1)


def settings(**study):
    return Settings(
        study=StudyKeys(title="made up", analysis_date=DAY, **study),
        hours=HoursKeys(factors={"hobbs": [0.9, 0.8, 1.0]}),
    )


def fleet(n=40, meter="hobbs", use=100.0):
    """Engines new in 2015 that run `use` hours a year; each fourth failed, from 2019 on."""
    rows = []
    for i in range(n):
        failed = i % 4 == 0
        end = dt.date(2019, 1, 1) + dt.timedelta(days=60 * i) if failed else DAY
        hours = use * (end - NEW).days / 365.25
        dates = {"ended": end} if failed else {"last_reading": end}
        rows.append(
            LifeRow(
                origin=Origin(file="a.csv", row=i + 2), rows=(i + 2,), engine=f"E{i}",
                exit_h=hours, ending="failed" if failed else "running", cause="gears" * failed,
                meter=meter, in_service=NEW, **dates,
            )
        )  # fmt: skip
    return tuple(rows)


def test_both_ends_of_the_factors_scale_every_life():
    """All hours were Hobbs, times 0.9; at 0.8 and 1.0 every answer in hours moves by 8/9 and
    10/9, and so do the exposure and the evidence."""
    rows = fleet()
    c = advise_clocks(rows, settings())
    assert [r.name for r in c.runs] == [
        "low end of the factors", "as stated", "high end of the factors",
    ]  # fmt: skip
    low, stated, high = c.runs
    for name in ("exposure_h", "supported_h"):
        assert getattr(low, name) == pytest.approx(getattr(stated, name) * 8 / 9)
        assert getattr(high, name) == pytest.approx(getattr(stated, name) * 10 / 9)
    # The band is found by iteration; 1e-4 is far below the rounding of any answer.
    assert low.life.low == pytest.approx(stated.life.low * 8 / 9, rel=1e-4)
    assert c.n_converted == 40
    assert c.same_verdict
    assert f"{low.life.low:,.0f} h and {high.life.low:,.0f} h" in c.sentence


def test_a_verdict_that_hangs_on_the_clocks_is_told():
    rows = fleet()
    lives = sorted(r.life.low for r in advise_clocks(rows, settings(claimed_interval_h=300.0)).runs)
    claim = 0.5 * (lives[1] + lives[2])
    c = advise_clocks(rows, settings(claimed_interval_h=claim))
    assert not c.same_verdict
    assert "hangs on the clocks" in c.sentence
    assert compose_clock_range(c).blocks[0].tone == "caution"


def test_one_clock_needs_no_second_run():
    assert advise_clocks(fleet(meter="flight"), settings()) is None


def test_looking_back_shows_what_was_known():
    """Failures come each 240 days from 2019: by 2024-01-01 eight of ten had come, by 2025-01-01
    the ninth and tenth as well."""
    rows = fleet()
    ended = [r.ended for r in rows if r.ending == "failed"]
    back = advise_looking_back(rows, settings(claimed_interval_h=500.0))
    assert [d.year for d in back.dates] == [2024, 2025, 2026]
    for day, run in zip(back.dates, back.runs, strict=True):
        assert run.n_failed == sum(e <= day for e in ended)
        assert run.n_lives == 40
    assert back.runs[0].n_failed < back.runs[2].n_failed
    assert "The verdict" in back.sentence
    assert compose_looking_back(back).blocks[-1].rows[0][0] == f"as of {back.dates[0]}"


def test_lives_without_dates_are_in_no_earlier_line_and_stand_apart_in_the_last():
    """Three of ten failures and as many running have no first date: 34 lives, then all 40."""
    from dataclasses import replace

    rows = list(fleet())
    failed = [i for i, r in enumerate(rows) if r.ending == "failed"][:3]
    running = [i for i, r in enumerate(rows) if r.ending == "running"][:3]
    for i in (*failed, *running):
        rows[i] = replace(rows[i], in_service=None, observed_from=None)
    back = advise_looking_back(rows, settings(claimed_interval_h=500.0))
    assert back.n_undated == 6
    assert [r.n_lives for r in back.runs] == [34, 34, 34, 40]
    assert [r.n_failed for r in back.runs[-2:]] == [7, 10]
    assert back.runs[-2].name.endswith("the lives with dates")
    assert "now 7 failures" in back.sentence


def test_records_without_dates_cannot_look_back():
    from dataclasses import replace

    rows = tuple(replace(r, in_service=None, last_reading=None, ended=None) for r in fleet())
    assert advise_looking_back(rows, settings()) is None
    s = settings()
    spells = spells_of(rows, tuple(judge_ending(r, s) for r in rows), s)
    assert advise_calendar(rows, spells) is None


def test_hours_and_years_of_even_use_are_one_clock():
    """All run 100 h a year: the rank correlation is 1, and no record can part the two."""
    rows = fleet(meter="flight")
    s = settings()
    view = advise_calendar(rows, spells_of(rows, tuple(judge_ending(r, s) for r in rows), s))
    assert view.correlation == pytest.approx(1.0)
    assert "cannot tell which" in view.sentence
    assert "about as regular" in view.sentence
    assert view.failures.sum() == 10
    assert view.exposure_h.sum() == pytest.approx(sum(r.exit_h for r in rows))
    assert np.all(np.diff(view.hour_edges) > 0)
    assert view.hour_edges[-1] >= view.hours.max()
    section = compose_calendar(view)
    table = section.blocks[-1]
    assert len(table.rows) == len(view.hour_edges) - 1
    assert any("none seen" in str(c) for row in table.rows for c in row)


def test_no_life_no_run():
    assert run_rows("none", (), settings()) is None


def test_conflicts_stand_side_by_side_in_the_report():
    rows = tuple(
        LifeRow(
            origin=Origin(file=f"{who}.csv", row=2), rows=(2,), engine="E-1", source=who,
            exit_h=hours, ending=ending,
        )
        for who, hours, ending in (("shop", 500.0, "failed"), ("club", 700.0, "running"))
    )  # fmt: skip
    merged = merge_returns(rows, settings())
    section = compose_returns(SimpleNamespace(records=SimpleNamespace(merged=merged)))
    table = next(b for b in section.blocks if getattr(b, "key", "") == "merge-conflicts")
    row = dict(zip((c.key for c in table.columns), table.rows[0], strict=True))
    assert {row["first_says"], row["second_says"]} == {"failed at 500 h", "running at 700 h"}
    assert row["decided"] == "not decided"
    assert any("not decided" in getattr(b, "text", "") for b in section.blocks)
    nothing = merge_returns(rows[:1], settings())
    assert compose_returns(SimpleNamespace(records=SimpleNamespace(merged=nothing))) is None
