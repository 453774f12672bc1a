"""Last year graded, engines that left and joined, and reasons that do not contradict themselves.

Fleets of a few lives worked out by hand; no source but counting.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from test_walk import OLD, fleet, study

from fleetstats.advice.key_figures import AdviceFigure
from fleetstats.document.parts import check_document, find_tables
from fleetstats.spells.build import Built
from fleetstats.studies.analyse import read_lives_of
from fleetstats.studies.compare.attribution import walk_advice
from fleetstats.studies.compare.document import Side, compose_compare
from fleetstats.studies.compare.engines import caution_rewritten, engine_changes
from fleetstats.studies.compare.grade import Grade, grade_last_year
from fleetstats.studies.compare.grade_words import say_grade
from fleetstats.studies.compare.members import find_gone, find_new
from fleetstats.studies.compare.steps import DataChange, WalkStep
from fleetstats.studies.compare.walk_words import say_how, walk_sentence
from fleetstats.studies.compare.year import with_year, year_lines
from fleetstats.studies.main_results import fit_or_reason
from fleetstats.study.study import Study, read_study

HEAD = "engine,exit_hours,ending,cause,in_service_date,last_reading_date,ended_date,note"
FIGURE = AdviceFigure(
    n_failed=3.0, state="answered", plan_from_h=700.0, expect_at_h=900.0, not_beyond_h=1100.0,
    life_h=1000.0, life_low_h=700.0, shape=2.0, verdict="",
)  # fmt: skip

Rows = dict[str, tuple[float, str]]
"""Engine: hours, and where it stands: a date of reading, or "cause @ date" of a failure."""


def text_of(rows: Rows) -> str:
    out = [HEAD]
    for engine, (hours, stands) in rows.items():
        cause, _, day = stands.rpartition(" @ ")
        end = f"failed,{cause},2018-01-01,,{day}" if cause else f"running,,2018-01-01,{day},"
        out.append(f"{engine},{hours:g},{end},")
    return "\n".join(out) + "\n"


def year(folder: Path, day: str, files: dict[str, str], more: str = "") -> tuple[Study, Built]:
    """Lay out and read a study of some members' returns."""
    folder.mkdir(exist_ok=True)
    text = f'[study]\ntitle = "t"\nanalysis_date = {day}\n{more}'
    for name, rows in files.items():
        (folder / f"{name}.csv").write_text(rows, encoding="utf-8")
        text += f'\n[[records]]\nfile = "{name}.csv"\nsource = "{name}"\n'
    (folder / "study.toml").write_text(text, encoding="utf-8")
    read = read_study(folder)
    return read, read_lives_of(read)[2]


def old_rows() -> Rows:
    """Forty engines at 100 to 880 h, three of them failed."""
    rows: Rows = {f"E-{i:02d}": (100.0 + 20 * i, "2025-12-20") for i in range(40)}
    for i, day in ((20, "2024-02-01"), (25, "2024-08-01"), (30, "2025-03-01")):
        rows[f"E-{i:02d}"] = (100.0 + 20 * i, f"piston @ {day}")
    return rows


def later_rows(failed: dict[int, tuple[float, str]]) -> Rows:
    """Return the same engines 60 h on, some of which failed at hours further on, on a day."""
    rows = old_rows()
    for engine, (hours, stands) in rows.items():
        if "@" not in stands:
            rows[engine] = (hours + 60.0, "2026-12-20")
    for i, (further, stands) in failed.items():
        rows[f"E-{i:02d}"] = (100.0 + 20 * i + further, stands)
    return rows


@pytest.fixture
def graded(tmp_path: Path) -> Callable[..., Grade]:
    def run(
        later: Rows, *, day: str = "2026-12-31", more: str = "", figure: AdviceFigure = FIGURE
    ) -> Grade:
        old, was = year(tmp_path / "old", "2025-12-31", {"club": text_of(old_rows())}, more)
        _, now = year(tmp_path / "new", day, {"club": text_of(later)})
        fit, _ = fit_or_reason(was.spells)
        got = grade_last_year(old, was, fit, now, dt.date.fromisoformat(day), figure)
        assert got is not None
        return got

    return run


def test_what_came_is_counted_by_hand(graded: Callable[..., Grade]) -> None:
    """E-05 fails at 210 h, E-31 at 760 h; E-22 had failed before and is told late; E-99 is new."""
    later = later_rows(
        {5: (10, "valve @ 2026-03-01"), 31: (40, "piston @ 2026-06-01"),
         22: (5, "piston @ 2025-11-01")}
    )  # fmt: skip
    later["E-99"] = (300.0, "piston @ 2026-09-01")
    del later["E-39"]
    g = graded(later)
    assert (g.n_running, g.n_gone, g.came) == (37, 1, 3)
    assert g.as_printed
    assert [f.engine for f in g.failures] == ["E-22", "E-05", "E-31", "E-99"]
    assert [f.late for f in g.failures] == [True, False, False, False]
    assert [f.ran_then for f in g.failures] == [True, True, True, False]
    # below 700 h: E-22 at 545, E-05 at 210, E-99 at 300; E-31 at 760 is past the start of the band
    assert [f.counts_for_stop for f in g.failures] == [True, True, False, True]
    assert (g.stop.counted, g.stop.engine, g.stop.day) == (3, "E-22", "2025-11-01")
    assert (g.band.below, g.band.within, g.band.past) == (3, 1, 0)
    # E-28 at 660 h and E-29 at 680 h passed 700 h without failing; E-39 is gone
    assert g.band.passed == 2
    assert g.hours_flown == 60.0 * 33 + 10 + 40 + 5
    text = " ".join(say_grade(g))
    assert "3 came" in text
    assert "1 engine of these is in no later record" in text
    assert "1 failure of E-22 had come by the date of the earlier records" in text
    assert "1 failure more came of engines that did not run" in text
    assert "was reached with E-22 on 2025-11-01; 3 such failures came in all" in text


def test_too_many_are_said_with_their_chance_and_the_alert_with_its_day(
    graded: Callable[..., Grade],
) -> None:
    failed = {i: (30.0, f"piston @ 2026-{1 + i % 9:02d}-10") for i in range(0, 20)}
    g = graded(later_rows(failed))
    assert (g.came, g.verdict) == (20, "more")
    assert g.chance == g.forecast.law.at_least(20) < 0.001
    assert g.alert is not None
    # the line is not above its last count, so that many by a month's end reach it at the latest
    days = sorted(f.day for f in g.failures)
    assert g.alert_on <= days[g.alert - 1]
    text = " ".join(say_grade(g))
    assert "that is more than the interval holds. So many would have come with a chance of" in text
    assert f"The alert line ({g.alert} by the end) was reached on {g.alert_on}" in text


def test_a_quiet_year_is_graded_too(graded: Callable[..., Grade]) -> None:
    g = graded(later_rows({}))
    assert (g.came, g.alert_on, g.stop.engine, g.stop.counted) == (0, "", "", 0)
    text = " ".join(say_grade(g))
    assert "0 came" in text
    assert "was not reached: no such failures came" in text
    assert "was not reached." in text
    assert "No new failure came" in text


def test_months_that_are_not_the_forecasts_are_said(graded: Callable[..., Grade]) -> None:
    later = {e: (h, s.replace("2026-12-20", "2026-06-20")) for e, (h, s) in later_rows({}).items()}
    g = graded(later, day="2026-06-30")
    assert not g.as_printed
    assert g.months == pytest.approx(181 / 30.4375)
    assert "For the 5.95 months that passed (its report had others)" in say_grade(g)[0]


def test_a_cause_that_no_check_sees_counts_at_any_hours(graded: Callable[..., Grade]) -> None:
    later = later_rows({35: (20, "crankshaft @ 2026-04-01")})
    assert graded(later).stop.counted == 0
    more = '[check]\nundetectable_causes = ["crankshaft"]\n'
    assert graded(later, more=more).stop.counted == 1


def test_a_rule_that_the_forecast_expects_is_called_none(graded: Callable[..., Grade]) -> None:
    """With 60 h a year to fly and no start of a band, one failure of the forecast's is expected."""
    wide = replace(FIGURE, plan_from_h=None)
    g = graded(later_rows({}), figure=wide)
    asked = g.stop.asked
    assert asked is not None
    assert asked.expected == pytest.approx(g.forecast.expected, rel=1e-9)
    assert asked.chance == pytest.approx(g.forecast.law.at_least(1))
    text = " ".join(say_grade(g))
    assert ("is no rule" in text) == (asked.expected >= 1)
    ten = graded(later_rows({}), figure=wide, more="[decision]\nstop_failures = 30\n")
    assert ten.stop.asked is not None
    assert not ten.stop.asked.likely
    assert "is no rule" not in " ".join(say_grade(ten))


def test_who_left_is_told_by_member_with_last_words(tmp_path: Path) -> None:
    north: Rows = {f"N-{i}": (300.0 + i, "2025-11-30") for i in range(20)}
    south: Rows = {f"S-{i}": (500.0 + i, "2025-10-31") for i in range(3)}
    old, was = year(
        tmp_path / "a", "2025-12-31", {"north": text_of(north), "south": text_of(south)}
    )
    less = {k: v for k, v in north.items() if k not in ("N-3", "N-7")}
    east: Rows = {"Q-1": (100.0, "2026-12-01")}
    less["N-50"] = (20.0, "2026-12-01")
    text = text_of(less).replace("N-50,20,running,,2018-01-01", "N-50,20,running,,2026-04-01")
    text += "N-51,700,running,,2012-01-01,2026-12-01,,\n"
    new, now = year(tmp_path / "b", "2026-12-31", {"north": text, "east": text_of(east)})
    gone = find_gone(was.rows, now.rows)
    assert [(x.source, x.engine) for x in gone] == [
        ("north", "N-3"), ("north", "N-7"), ("south", "S-0"), ("south", "S-1"), ("south", "S-2"),
    ]  # fmt: skip
    assert [x.whole_return for x in gone] == [False, False, True, True, True]
    assert (gone[0].hours, gone[0].last_date, gone[0].ending) == (303.0, "2025-11-30", "running")
    joined = find_new(was.rows, now.rows, dt.date(2025, 12, 31))
    assert {x.engine: x.why for x in joined} == {
        "N-50": "new-engine", "Q-1": "new-source", "N-51": "told-late"
    }  # fmt: skip
    walk = with_year(walk_advice(old, was.spells, new, now.spells), old, was, new, now)
    said = "\n".join(year_lines(walk))
    assert "north no longer lists 2 of 20 engines" in said
    assert "No return of south is in the later records: 3 engines gone" in said
    assert "N-3 (303 h, 2025-11-30)" in said
    assert "1 engine comes with the return of a member that sent none before (east): Q-1." in said
    sides = (Side(study=s, sources=(), spells=b.spells) for s, b in ((old, was), (new, now)))
    document = compose_compare(*sides, walk)
    check_document(document)
    tables = {t.key: t for t in find_tables(document)}
    assert len(tables["engines-gone"].rows) == 5
    assert len(tables["engines-new"].rows) == 3


def test_another_return_that_reads_less_is_no_going_back() -> None:
    """Of one reading, 1,000.0 h in one return and 998.2 h in another: within 2 %."""
    old = OLD.replace(source=np.full(len(OLD), "north"))
    less = OLD.exit_upper.copy()
    less[40] -= 1.8
    other = np.array(["north"] * 60)
    other[40] = "ledger"
    new = OLD.replace(exit_lower=less, exit_upper=less, source=other)
    (change,) = engine_changes(old, new)
    assert change.kind == "other-return"
    assert caution_rewritten([change]) == ()
    # the same return, or more than returns may differ by, went back
    (change,) = engine_changes(old, new.replace(source=old.source))
    assert change.kind == "hours-back"
    (change,) = engine_changes(old, new, hours_alike=0.001)
    assert change.kind == "hours-back"
    assert caution_rewritten([change]) != ()


def test_a_failure_between_two_lives_is_no_further_hours() -> None:
    """E059 failed, was mended and runs again: it ends as before, but its endings changed."""
    stop = OLD.exit_upper[59]
    failed = OLD.select(np.arange(60) == 59)
    failed = failed.replace(event=np.array([1]), exit_lower=np.array([stop + 50.0]),
                            exit_upper=np.array([stop + 50.0]))  # fmt: skip
    again = failed.replace(
        event=np.array([0]), entry=np.array([stop + 50.0]), exit_lower=np.array([stop + 90.0]),
        exit_upper=np.array([stop + 90.0]),
    )  # fmt: skip
    new = OLD.select(np.arange(60) < 59).join(failed).join(again)
    walk = walk_advice(study(), OLD, study(), new)
    by = {s.key: s.figure.n_failed for s in walk.steps}
    assert (by["hours"], by["endings"]) == (0.0, 1.0)


def steps(*hours: tuple[str, float | None], **figures: AdviceFigure) -> list[WalkStep]:
    out: list[WalkStep] = []
    before = None
    for key, h in hours:
        figure = replace(figures.get(key, FIGURE), plan_from_h=h)
        move = None if before is None or h is None else h - before
        out.append(WalkStep(key=key, what=f"step {key}", figure=figure, move_h=move))
        before = h if h is not None else before
    return out


DATA = DataChange(
    engines_both=1, engines_new=0, engines_gone=0, hours_added=0.0, failures_added=0.0,
    exposure_before_h=1.0, exposure_after_h=1.0, failures_before=3.0, failures_after=3.0,
)  # fmt: skip


def test_the_main_reason_moves_the_way_of_the_whole() -> None:
    """700, 900 (hours), 500 (endings): 200 h earlier in all, and further hours did not do it."""
    said = walk_sentence(steps(("before", 700.0), ("hours", 900.0), ("endings", 500.0)), 0, DATA)
    assert "moved 200 h earlier, from 700 h to 500 h" in said
    assert (
        "Most of it came from step endings (−400 h). Against it worked step hours (+200 h)" in said
    )
    assert "How step" not in said


def test_further_hours_that_move_the_band_earlier_say_how() -> None:
    flatter = replace(FIGURE, shape=1.6)
    said = walk_sentence(steps(("before", 700.0), ("hours", 600.0), hours=flatter), 0, DATA)
    assert "Most of it came from step hours (−100 h)" in said
    assert (
        "How step hours did so: the shape went from 2.00 to 1.60, so that more of the risk lies at "
        "few hours."
    ) in said
    later = walk_sentence(steps(("before", 700.0), ("hours", 800.0), hours=flatter), 0, DATA)
    assert "How step" not in later


def test_failures_that_move_the_band_later_say_how() -> None:
    more = replace(FIGURE, n_failed=5.0, shape=2.6)
    said = walk_sentence(steps(("before", 700.0), ("endings", 800.0), endings=more), 0, DATA)
    assert "How step endings did so: 2 more failed and the shape went from 2.00 to 2.60" in said


def test_moves_that_cancel_are_both_named() -> None:
    said = walk_sentence(steps(("before", 700.0), ("hours", 750.0), ("new", 700.0)), 0, DATA)
    assert "did not move in all" in said
    assert "Moves of single steps cancel: step hours (+50 h) and step new (−50 h)." in said


def test_how_is_never_left_unsaid() -> None:
    assert "rounded to 50 h" in say_how(FIGURE, FIGURE)
    low = replace(FIGURE, life_low_h=640.0)
    assert "went from 700 h to 640 h" in say_how(FIGURE, low)
    governed = replace(FIGURE, governed_by="risk")
    assert "set by risk now, not by cost" in say_how(replace(FIGURE, governed_by="cost"), governed)


def test_every_walk_adds_up_and_blames_nothing_that_moved_the_other_way() -> None:
    """Six made pairs of studies: hours, failures, engines gone and new at random."""
    rng = np.random.default_rng(11)
    for _ in range(6):
        n = 60
        ages = np.linspace(100, 1400, n)
        was = rng.random(n) < 0.12
        old = fleet(ages, was)
        further = ages + np.where(was, 0.0, rng.uniform(0, 300, n))
        now = was | (rng.random(n) < 0.05)
        new = fleet(further, now).select(rng.random(n) < 0.95)
        walk = walk_advice(study(), old, study(), new)
        first, last = walk.steps[0].figure.plan_from_h, walk.steps[-1].figure.plan_from_h
        if first is None or last is None:
            continue
        whole = last - first
        assert sum(s.move_h or 0.0 for s in walk.steps) == pytest.approx(whole)
        for s in walk.steps[1:]:
            if f"Most of it came from {s.what}" in walk.sentence:
                assert (s.move_h or 0.0) * whole > 0
            if s.key == "hours" and (s.move_h or 0.0) < 0 and s.what in walk.sentence:
                assert f"How {s.what} did so" in walk.sentence


def test_studies_without_dates_are_not_graded() -> None:
    nothing = dataclasses.replace(study())
    keys = replace(nothing.settings.study, analysis_date=None)
    undated = replace(nothing, settings=replace(nothing.settings, study=keys))
    assert grade_last_year(undated, None, None, None, None, FIGURE) is None  # type: ignore[arg-type]
