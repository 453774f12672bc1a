"""What records do to an answer, and what is done about it: one small made fleet each.

The rows are those of table B in the design's list of data pathologies that concern records; each
test shows the harm in numbers, then the cure.
"""

import datetime as dt

import numpy as np
import pytest

from fleetstats.chapters.cautions.rules import caution_stale
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.audit.finding import Audit
from fleetstats.records.clocks.usage import carry_readings
from fleetstats.records.cutoff import rows_as_of
from fleetstats.records.life import LifeRow
from fleetstats.records.log.log import replay_log
from fleetstats.records.log_event import LogEvent
from fleetstats.records.merging.merge import merge_returns
from fleetstats.records.reading import Records
from fleetstats.records.rules import judge_ending
from fleetstats.spells.asserted import LivesTold
from fleetstats.spells.build import build_spells, spells_of
from fleetstats.spells.calendar import build_calendar
from fleetstats.spells.heaping import find_rounding, widen_rounded
from fleetstats.spells.spells import Spells
from fleetstats.spells.splits import split_modified
from fleetstats.study.settings import (
    HoursKeys,
    MergeKeys,
    QuestionKeys,
    Settings,
    StudyKeys,
    TreatKeys,
)
from fleetstats.study.study import RecordFile, Study
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.vocabulary.finding import Origin

DAY = dt.date(2026, 1, 1)


def settings(*, question=None, hours=None, treat=None, merge=None):
    return Settings(
        study=StudyKeys(title="made up", analysis_date=DAY),
        question=QuestionKeys(**(question or {})),
        hours=HoursKeys(**(hours or {})),
        treat=TreatKeys(actions=treat or {}),
        merge=MergeKeys(**(merge or {})),
    )


def row(engine, exit_h, ending="running", *, entry=0.0, number=2, source="club", **more):
    return LifeRow(
        origin=Origin(file=f"{source}.csv", row=number), rows=(number,), source=source,
        engine=engine, entry_h=entry, exit_h=exit_h, ending=ending, **more,
    )  # fmt: skip


def spells(rows, s=None):
    s = s or settings()
    return spells_of(tuple(rows), tuple(judge_ending(r, s) for r in rows), s)


def rate(sp):
    """Failures per 1,000 h."""
    return 1000.0 * sp.n_failed / sp.exposure_h


def event(i, engine, day, hours, kind, **more):
    return LogEvent(
        origin=Origin(file="log.csv", row=i), engine=engine, kind=kind, hours=hours,
        date=dt.date.fromisoformat(day) if day else None, **more,
    )  # fmt: skip


def test_b1_engines_that_join_with_hours_on_them():
    """Truth F(1,200) = 1 - exp(-(1200/2500)^2.5) = 14.8 %. Engines join at 0 to 1,500 h if they
    lived so long, and are followed for 200 to 800 h. With entry hours the fit finds 14.8 %;
    without them the hours before joining count as survived, and it finds about half."""
    rng = np.random.default_rng(11)
    n = 26_000
    life = 2500.0 * rng.weibull(2.5, size=n)
    entry = rng.uniform(0, 1500, size=n)
    stop = entry + rng.uniform(200, 800, size=n)
    seen = life > entry
    life, entry, stop = life[seen], entry[seen], stop[seen]
    sp = Spells.of(entry, np.minimum(life, stop), life <= stop)
    truth = 1 - np.exp(-((1200 / 2500) ** 2.5))
    assert truth == pytest.approx(0.1475, abs=5e-4)
    right = 1 - fit_weibull(sp).reliability(np.array([1200.0]))[0]
    naive = 1 - fit_weibull(sp.replace(entry=np.zeros(len(sp)))).reliability(np.array([1200.0]))[0]
    # Some 4,000 failures: the standard error of F is about 0.3 points.
    assert right == pytest.approx(truth, abs=0.009)
    assert naive == pytest.approx(0.072, abs=0.006)


def test_b5_stale_readings_invent_exposure_only_when_asked():
    """Ten engines run 100 h a year from 2017; one failed at 300 h, nine were last read at 500 h on
    2022-01-01. Censored there: 1 failure in 4,800 h. Carried four years on: 1 in 8,400 h."""
    new = dt.date(2017, 1, 1)
    read = dt.date(2022, 1, 1)
    rows = [
        row("E0", 300, "failed", cause="gears", in_service=new, ended=dt.date(2020, 1, 1)),
        *(row(f"E{i}", 500, in_service=new, last_reading=read) for i in range(1, 10)),
    ]
    kept = carry_readings(rows, settings())
    assert kept.rows == tuple(rows)
    assert rate(spells(kept.rows)) == pytest.approx(1000 / 4800)
    asked = settings(hours={"carry_to_analysis_date": True})
    carried = carry_readings(rows, asked)
    assert carried.n_carried == 9
    assert carried.hours_added == pytest.approx(9 * 500 * 1461 / 1826)
    assert rate(spells(carried.rows)) == pytest.approx(1000 / 8401, rel=1e-3)
    assert "carried from 500 h on 2022-01-01 by 100 h a year" in carried.rows[1].note
    undated = carry_readings([row("E9", 500, last_reading=read)], asked)
    assert (undated.n_carried, undated.n_not_carried) == (0, 1)
    assert undated.findings[0].code == "reading-not-carried"
    assert [c.code for c in caution_stale(LivesTold.of_rows(rows, settings()), settings())] == [
        "stale-hours"
    ]


def test_b6_hours_before_a_modification_are_not_the_modified_builds():
    """Two engines of build I fail at 300 and 600 h. Two more are modified at 800 and 900 h; one
    runs to 1,000, one fails at 1,100 h. Uncut, build II has 1 failure in 2,100 h and I has 2 in
    900: II looks five times better. Cut, I has 2 in 2,600 h and II 1 in 400: it is worse."""
    first = [
        row("A", 300, "failed", cause="gears", build="I"),
        row("B", 600, "failed", cause="gears", build="I"),
    ]
    sp = spells(
        [*first, row("C", 1000, build="II"), row("D", 1100, "failed", cause="gears", build="II")]
    )
    one, two = sp.select(sp.build == "I"), sp.select(sp.build == "II")
    assert (rate(two), rate(one)) == (pytest.approx(1000 / 2100), pytest.approx(2000 / 900))
    new = {"build": "I", "build_after": "II"}
    whole = [
        row("C", 1000, modified_h=800.0, **new),
        row("D", 1100, "failed", cause="gears", modified_h=900.0, **new),
    ]
    cut = spells([*first, *(part for r in whole for part in split_modified(r))])
    one, two = (cut.select(cut.build == b) for b in ("I", "II"))
    assert (rate(two), rate(one)) == (pytest.approx(1000 / 400), pytest.approx(2000 / 2600))
    assert len(cut) == 6
    assert cut.exposure_h == sp.exposure_h
    assert cut.n_failed == sp.n_failed


def test_b6_a_row_that_says_when_it_was_modified_is_cut_in_the_study():
    rows = (row("C", 1000, build="I", modified_h=800.0, build_after="II"),)
    study = Study(folder=None, settings=settings(), files=(), chosen=frozenset())
    built = build_spells(
        study,
        Records(rows=rows),
        Audit(findings=(), accounts=(), set_aside=(), used=rows),
    )
    assert built.spells.build.tolist() == ["I", "II"]
    assert built.spells.entry.tolist() == [0, 800]
    assert built.spells.exit_upper.tolist() == [800, 1000]
    assert [v.counts_as for v in built.verdicts] == ["censored", "censored"]
    assert len(built.rows) == 2


def test_b7_a_data_plate_moved_to_a_new_case_is_asked_about_and_never_guessed():
    """The log of A runs to 1,900 h and goes on at 40 h: another engine under its plate. One life of
    1,900 h hides the second; the finding asks, and the study may call them two."""
    log = (
        event(2, "A", "2015-01-01", 0, "installed"),
        event(3, "A", "2022-01-01", 1900, "reading"),
        event(4, "A", "2022-06-01", 40, "reading"),
        event(5, "A", "2023-06-01", 300, "failed", cause="gears", confirmed=True),
    )
    r = replay_log(log, settings())
    assert [f.code for f in r.findings] == ["log-hours-backwards"] * 2
    assert all(f.action == "stop" for f in r.findings)
    assert "change of engine" in r.findings[0].advice
    two = (
        row("A", 1900, source="A", last_reading=dt.date(2022, 1, 1)),
        row("A", 300, "failed", source="B", ended=dt.date(2023, 6, 1), cause="gears"),
    )
    conflict = merge_returns(two, settings())
    assert [f.code for f in conflict.findings] == ["merge-conflict"]
    decided = {"engine": "A", "take": "separate", "reason": "plate moved to a new case"}
    m = merge_returns(two, settings(merge={"decisions": (decided,)}))
    assert m.findings == ()
    assert spells(m.rows).exposure_h == 2200
    assert len({x.engine_id for x in m.rows}) == 2


def test_b8_one_failure_told_by_owner_shop_and_club_counts_once():
    """Three reports of one failure and nine engines running at 800 h: 3 failures in 9,647 h as
    told, 1 in 8,020 h once they are one."""
    told = [
        row("E-77", 812, "failed", source="owner", ended=dt.date(2024, 5, 1)),
        row("E-077", 820, "failed", source="shop", ended=dt.date(2024, 6, 10), cause="gears",
            confirmed=True),
        row("E77", 815, "failed", source="club", ended=dt.date(2024, 5, 3), cause="gears"),
        *(row(f"F-{i}", 800, source="club", number=10 + i) for i in range(9)),
    ]  # fmt: skip
    assert rate(spells(told)) == pytest.approx(3000 / 9647)
    m = merge_returns(tuple(told), settings())
    assert (m.n_events_before, m.n_events_after) == (3, 1)
    # The shop's report rules: it alone says that the fault was confirmed.
    assert rate(spells(m.rows)) == pytest.approx(1000 / 8020)
    assert len(m.pairs) == 2
    assert {s.reason for s in m.set_aside} == {"merged"}


def test_b9_lives_after_overhaul_are_kept_apart():
    """First lives Weibull(3, 2,000 h) end at a planned overhaul at 1,500 h; second lives are
    Weibull(1, 1,500 h). Thrown together the shape is nobody's; by life each is found."""
    rng = np.random.default_rng(3)
    n = 3000
    first = 2000 * rng.weibull(3.0, size=n)
    second = 1500 * rng.exponential(size=n)
    rows = []
    for i in range(n):
        failed = first[i] < 1500
        rows.append(row(f"E{i}", min(first[i], 1500), "failed" if failed else "planned-overhaul"))
        rows.append(
            row(f"E{i}", min(second[i], 1500), "failed" if second[i] < 1500 else "running", life=1,
                life_start_h=min(first[i], 1500.0))
        )  # fmt: skip
    sp = spells(rows)
    life = np.array([r.life for r in rows])
    shapes = [fit_weibull(sp.select(life == k)).shape for k in (0, 1)]
    # Standard errors are about 0.08 and 0.02.
    assert shapes == [pytest.approx(3.0, abs=0.25), pytest.approx(1.0, abs=0.06)]
    assert 1.15 < fit_weibull(sp).shape < 1.7


def test_b9_a_top_overhaul_does_not_restart_the_clock():
    log = (
        event(2, "A", "2015-01-01", 0, "installed"),
        event(3, "A", "2018-01-01", 600, "top-overhaul"),
        event(4, "A", "2020-01-01", 1000, "overhauled"),
        event(5, "A", "2020-02-01", 1000, "returned"),
        event(6, "A", "2022-01-01", 1400, "reading"),
    )
    r = replay_log(log, settings(hours={"basis": "since-overhaul"}))
    assert [(x.entry_h, x.exit_h, x.life) for x in r.rows] == [(0, 1000, 0), (0, 400, 1)]


def test_b10_two_builds_pooled_bend_the_hazard_down():
    """Each build has a constant hazard, 1/400 and 1/4,000 per hour, and is refitted to the better
    at 300 h if it lives so long. Pooled, the shape looks like early failures; cut at the refit and
    by build, there are none."""
    rng = np.random.default_rng(4)
    n = 2000
    poor = 400 * rng.exponential(size=n)
    after = 300 + 4000 * rng.exponential(size=n)
    life = np.where(poor < 300, poor, after)
    end = np.minimum(life, 2000)
    sp = Spells.of(np.zeros(n), end, life <= 2000, build=np.full(n, "I"))
    pooled = fit_weibull(sp).shape
    assert pooled < 0.75
    cut = spells([
        part
        for i in range(n)
        for part in split_modified(
            row(f"E{i}", end[i], "failed" if life[i] <= 2000 else "running", build="I",
                cause="gears" if life[i] <= 2000 else "", modified_h=300.0, build_after="II")
        )
    ])  # fmt: skip
    shapes = [fit_weibull(cut.select(cut.build == b)).shape for b in ("I", "II")]
    # About 1,050 and 330 failures: standard errors 0.03 and 0.08.
    assert shapes[0] == pytest.approx(1.0, abs=0.1)
    assert shapes[1] == pytest.approx(1.0, abs=0.25)


def test_b11_rounded_hours_are_intervals():
    """Lives Weibull(10, 330 h), written to the nearest 100: nearly all failures at 300. Taken as
    exact the shape comes out far off; as (250, 350] and so on it is found."""
    rng = np.random.default_rng(8)
    n = 600
    life = 330 * rng.weibull(10.0, size=n)
    written = 100 * np.round(life / 100)
    sp = Spells.of(np.zeros(n), written, np.ones(n, dtype=bool))
    exact = fit_weibull(sp)
    wide = widen_rounded(sp)
    assert wide.n_widened == n
    assert wide.roundings[0][1].widths == (100.0,)
    cured = fit_weibull(wide.spells)
    # Standard error of the shape about 0.4 with intervals this wide; the exact fit is off by 2.
    assert cured.shape == pytest.approx(10.0, abs=1.2)
    assert cured.scale_h == pytest.approx(330, abs=6)
    assert abs(exact.shape - 10.0) > 2.0


def test_b11_the_digit_test_finds_the_habit_and_not_more():
    rng = np.random.default_rng(9)
    h = rng.uniform(200, 2000, size=300)
    assert find_rounding(np.round(h)).widths == ()
    assert find_rounding(50 * np.round(h / 50)).widths == (50.0,)
    mixed = np.where(np.arange(300) < 150, 100 * np.round(h / 100), np.round(h))
    r = find_rounding(mixed)
    assert r.widths == (100.0,)
    assert r.width_of([1200.0, 1250.0, 1213.0]).tolist() == [100.0, 0.0, 0.0]
    assert r.p_digits < 1e-6
    assert find_rounding(np.round(h)).p_digits > 1e-3


def test_b11_by_hand_the_binomial_behind_a_width():
    """Ten figures at multiples of 50, all of them at multiples of 100: chance 2^-10."""
    r = find_rounding(100.0 * np.arange(1, 11))
    assert r.shares[0] == (100.0, 10, 10, 0.5, pytest.approx(2**-10))
    assert r.widths == (100.0,)


def test_b12_a_fault_found_at_a_check_arose_before_it():
    """Onset Weibull(2.5, 1,000 h), checks each 400 h. Dated at the finding, the median is some
    190 h too late; between the last clean check and the finding it is right."""
    rng = np.random.default_rng(6)
    n = 2500
    onset = 1000 * rng.weibull(2.5, size=n)
    found = 400 * np.ceil(onset / 400)
    rows = [
        row(f"E{i}", found[i], "found-at-check", last_good_h=found[i] - 400, cause="valve",
            confirmed=True)
        for i in range(n)
    ]  # fmt: skip
    sp = spells(rows)
    assert sp.interval_known.all()
    median = 1000 * np.log(2) ** 0.4
    late = fit_weibull(sp.replace(exit_lower=sp.exit_upper)).quantile(np.array([0.5]))[0]
    right = fit_weibull(sp).quantile(np.array([0.5]))[0]
    assert right == pytest.approx(median, abs=25)
    assert late - median > 150


def test_b12_a_teardown_is_an_inspection():
    """Found at the teardown at 1,400 h says before 1,400; clean says after it."""
    s = settings(question={"level": "beyond-limits"})
    found, clean = (
        row(e, 1400, "planned-overhaul", found_at_teardown=f, cause=c)
        for e, f, c in (("A", True, "crack"), ("B", False, ""))
    )
    sp = spells([found, clean], s)
    assert sp.failed.tolist() == [True, False]
    assert (sp.exit_lower[0], sp.exit_upper[0]) == (0, 1400)


def test_b14_a_fleet_overhauled_on_time_says_nothing_past_it():
    """Two truths that part at 1,200 h give the same records when all engines come off there."""
    rng = np.random.default_rng(2)
    e = rng.exponential(size=400)
    mild = 1200 * (e / 0.2) ** (1 / 2)
    harsh = np.where(mild < 1200, mild, 1200 + (mild - 1200) / 20)
    made = [
        spells(
            [
                row(f"E{i}", min(x, 1200.0), "failed" if x < 1200 else "planned-overhaul")
                for i, x in enumerate(life)
            ]
        )
        for life in (mild, harsh)
    ]
    assert made[0] == made[1]
    assert made[0].horizon_h(least=10) == 1200
    assert made[0].at_risk([1200.0, 1200.1]).tolist() == [np.sum(mild >= 1200), 0]
    share = [np.mean(life < 1500) for life in (mild, harsh)]
    assert share[1] - share[0] > 0.5


def test_b15_sources_that_call_different_things_a_failure_are_mapped_first():
    """A logs each cylinder as a failure, B only crankshafts. Raw, A fails four times as often;
    with cylinders counted as another cause for all, or excluded with their number, they agree."""
    rows = [
        *(row(f"A{i}", 1000, "failed", cause="cylinder", source="A") for i in range(3)),
        row("A3", 1000, "failed", cause="crankshaft", source="A"),
        row("B0", 1000, "failed", cause="crankshaft", source="B"),
        *(row(f"{s}{i}", 1000, source=s) for s in "AB" for i in range(4, 10)),
        *(row(f"B{i}", 1000, source="B") for i in range(1, 4)),
    ]

    def by_source(s):
        sp = spells(rows, s)
        return [sp.select(sp.source == x).n_failed for x in "AB"]

    assert by_source(settings()) == [4, 1]
    asked = settings(question={"causes": ("crankshaft",)})
    assert by_source(asked) == [1, 1]
    counts = [judge_ending(r, asked).counts_as for r in rows]
    assert counts.count("competing") == 3
    rule = {"source": "A", "cause": "cylinder", "counts_as": "excluded", "reason": "B has none"}
    out = [judge_ending(r, settings(question={"rules": (rule,)})) for r in rows]
    assert [v.counts_as for v in out].count("excluded") == 3


def test_b16_low_users_age_by_the_calendar():
    """Engines corrode through at 10 to 14 years whatever they fly, some 30 and some 250 h a year.
    By hours they fail anywhere from 300 to 3,500 h, as if by chance; by years the age is plain."""
    rng = np.random.default_rng(12)
    n = 120
    years = rng.uniform(10, 14, size=n)
    use = np.where(np.arange(n) % 2, 30.0, 250.0)
    new = dt.date(2005, 1, 1)
    rows = [
        row(f"E{i}", use[i] * years[i], "failed", cause="corrosion", in_service=new,
            ended=new + dt.timedelta(days=float(365.25 * years[i])))
        for i in range(n)
    ]  # fmt: skip
    cal = build_calendar(rows, spells(rows))
    assert cal.n_undated == 0
    assert fit_weibull(cal.spells).shape < 1.5
    assert fit_weibull(cal.by_years).shape > 8
    assert cal.hours_per_year[:2] == pytest.approx([250, 30], rel=1e-3)
    exposure, failures = cal.cross([0, 600, 4000], [0, 10, 15])
    assert exposure.sum() == pytest.approx(cal.spells.exposure_h)
    assert failures.tolist() == [[0, 60], [0, 60]]
    # Engines at 250 h a year pass 600 h after 2.4 years.
    assert exposure[0, 0] == pytest.approx(60 * 600 + 60 * 300, rel=2e-3)


def test_b16_by_hand_one_life_in_the_plane_of_hours_and_years():
    """From (100 h, 1 year) to (500 h, 5 years): 100 h a year; a cell edge at 300 h is 3 years."""
    a = row("A", 500, entry=100, in_service=dt.date(2010, 1, 1),
            observed_from=dt.date(2011, 1, 1), last_reading=dt.date(2015, 1, 1))  # fmt: skip
    b = row("B", 500, last_reading=dt.date(2015, 1, 1))
    cal = build_calendar([a, b], spells([a, b]))
    assert cal.n_undated == 1
    assert cal.row.tolist() == [0]
    exposure, _ = cal.cross([0, 300, 600], [0, 2, 6])
    assert exposure == pytest.approx(np.array([[100, 100], [0, 200]]), abs=0.3)


def test_b18_a_period_that_begins_at_the_last_failure_holds_none():
    """Five engines, 200 h a year each from 2016; three fail. Since the last failure (2023-07-01)
    none failed: that period was chosen by its answer. As of fixed dates the rate is told whole,
    and a year either way shows how far it hangs on the date."""
    new = dt.date(2016, 1, 1)

    def end(day, ending):
        on = dt.date.fromisoformat(day)
        hours = 200 * (on - new).days / 365.25
        dates = {"ended": on} if ending == "failed" else {"last_reading": on}
        return hours, ending, dates

    fates = [end("2018-01-01", "failed"), end("2021-01-01", "failed"), end("2023-07-01", "failed"),
             end("2026-01-01", "running"), end("2026-01-01", "running")]  # fmt: skip
    rows = [row(f"E{i}", h, e, in_service=new, **d) for i, (h, e, d) in enumerate(fates)]
    last = dt.date(2023, 7, 1)
    since = sum(r.exit_h - 200 * (last - new).days / 365.25 for r in rows[3:])
    assert since == pytest.approx(
        2 * 200 * 915 / 365.25
    )  # h without a failure: the period was chosen so
    whole = rows_as_of(rows, DAY)
    assert rate(spells(whole.rows)) == pytest.approx(3000 / 6901, rel=1e-3)
    before = rows_as_of(rows, dt.date(2023, 1, 1))
    assert (before.n_cut, before.n_later, before.n_undated) == (3, 0, 0)
    assert spells(before.rows).n_failed == 2
    assert rate(spells(before.rows)) == pytest.approx(2000 / 5601, rel=1e-3)
    assert rows_as_of(rows, dt.date(2015, 1, 1)).n_later == 5
    assert rows_as_of([row("X", 400)], DAY).n_undated == 1
    joined = row("J", 800, entry=400, observed_from=new, last_reading=dt.date(2026, 1, 1))
    half = rows_as_of([joined], dt.date(2020, 12, 31)).rows[0]
    assert (half.entry_h, half.exit_h) == (400, pytest.approx(400 + 400 * 1826 / 3653))


def test_b18_lives_that_cannot_be_cut_are_left_out_whatever_became_of_them():
    """Four of ten, none with a first date, failed in 2022; six still run. Kept for their end alone,
    the four would stand at 2023 without the hours of the six beside them."""
    ended = {"ended": dt.date(2022, 5, 1)}
    rows = [row(f"F{i}", 500, "failed", **ended) for i in range(4)]
    rows += [row(f"R{i}", 900, last_reading=dt.date(2026, 1, 1)) for i in range(6)]
    past = rows_as_of(rows, dt.date(2023, 1, 1))
    assert (past.rows, past.n_undated) == ((), 10)
    # One that can be cut stays; and where no life is cut, every dated end counts.
    known = row("K", 400, in_service=dt.date(2020, 1, 1), last_reading=dt.date(2024, 1, 1))
    assert [r.engine for r in rows_as_of([*rows, known], dt.date(2022, 1, 1)).rows] == ["K"]
    assert len(rows_as_of(rows, dt.date(2026, 1, 1)).rows) == 10


def test_b19_failures_recalled_without_their_exposure_enter_no_rate():
    """Ten engines, one failure in 9,500 h. Three more are remembered, with no hours watched before:
    four in the same hours would be four times the rate. They are listed, not counted."""
    fleet = [row(f"E{i}", 1000, number=i) for i in range(9)]
    fleet.append(row("E9", 500, "failed", number=9, cause="gears"))
    assert rate(spells(fleet)) == pytest.approx(1000 / 9500)
    log = (
        event(2, "X", "2001-01-01", 700, "failed", cause="gears"),
        event(3, "Y", "2003-01-01", 900, "failed", cause="valve"),
        event(4, "Z", "2010-01-01", 0, "installed"),
        event(5, "Z", "2012-01-01", 300, "reading"),
    )
    r = replay_log(log, settings())
    assert [(x.engine, x.ending) for x in r.rows] == [("Z", "running")]
    assert [f.code for f in r.findings] == ["log-failure-without-exposure"] * 2
    assert [(s.row, s.reason) for s in r.set_aside] == [
        (2, "log-failure-without-exposure"), (3, "log-failure-without-exposure"),
    ]  # fmt: skip


def test_b19_a_failure_at_the_hours_of_its_return_is_listed():
    """It failed on the first run after the shop: no hours were watched, but it did fail."""
    log = (
        event(2, "X", "2010-01-01", 0, "installed"),
        event(3, "X", "2012-01-01", 400, "overhauled"),
        event(4, "X", "2012-02-01", 400, "returned"),
        event(5, "X", "2012-02-02", 400, "failed", cause="gears"),
        event(6, "X", "2012-03-01", 400, "returned"),
        event(7, "X", "2014-01-01", 900, "reading"),
    )
    r = replay_log(log, settings())
    assert [x.ending for x in r.rows] == ["planned-overhaul", "running"]
    assert [f.code for f in r.findings] == ["log-failure-without-exposure"]
    assert [(s.row, s.reason) for s in r.set_aside] == [(5, "log-failure-without-exposure")]


def test_b19_a_row_of_that_kind_is_set_aside_with_its_reason(tmp_path):
    path = tmp_path / "club.csv"
    path.write_text(
        "engine,entry,exit,status,cause\nE1,0,1000,running,\nE2,700,700,failed,gears\n",
        encoding="utf-8",
    )
    from fleetstats.records.readers import read_records

    study = Study(
        folder=tmp_path,
        settings=settings(treat={"failure-without-exposure": "set-aside"}),
        files=(RecordFile(file="club.csv", path=path),),
        chosen=frozenset(),
    )
    audit = audit_records(study, read_records(study))
    assert audit.ok
    assert audit.reasons == {"failure-without-exposure": 1}
    assert [x.engine for x in audit.used] == ["E1"]
