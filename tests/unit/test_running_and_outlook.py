"""Running engines and their outlook: whose hours, whose rate, who is ranked and who is not."""

import datetime as dt
import math

import numpy as np
import pytest

from fleetstats.chapters.ahead.failures_ahead import draws_ahead
from fleetstats.chapters.ahead.forecast import forecast_fleet
from fleetstats.chapters.ahead.outlook import DRAWS, look_ahead
from fleetstats.chapters.ahead.outlook_section import compose_outlook
from fleetstats.chapters.ahead.outlook_values import Sign
from fleetstats.chapters.ahead.read_off import MOST_AGES, NEAR_START, at_ages
from fleetstats.chapters.ahead.shrunk import shrunk_chance
from fleetstats.chapters.ahead.told_between import at_worse_edge
from fleetstats.core.errors import FitError
from fleetstats.document.words import FORBIDDEN
from fleetstats.records.life import LifeRow
from fleetstats.spells import Spells
from fleetstats.spells.running import ages_of, find_running, running_among, widths_of
from fleetstats.study.settings import (
    FleetKeys,
    ForecastKeys,
    HoursKeys,
    Settings,
    StudyKeys,
)
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.vocabulary.finding import Origin

TODAY = dt.date(2026, 9, 30)


def settings(**tables):
    study = StudyKeys(title="t", analysis_date=TODAY, claimed_interval_h=1200.0)
    return Settings(study=study, **tables)


def life(engine, hours, ending="running", **more):
    return LifeRow(
        origin=Origin(file="l.csv", row=2), engine=engine, exit_h=hours, ending=ending, **more
    )


def test_running_engines_are_found_once_for_what_they_hang_on():
    rows = (life("A", 600.0), life("B", 300.0, last_reading=dt.date(2025, 1, 1)))
    spells = Spells.of(0, [600.0, 300.0], [0, 0])
    found = running_among(rows, spells, settings())
    assert found == find_running(rows, settings())
    assert running_among(rows, spells, settings()) is found
    others = [
        settings(fleet=FleetKeys(hours_per_year=90.0)),
        settings(hours=HoursKeys(stale_days=4000)),
        Settings(study=StudyKeys(title="t", analysis_date=dt.date(2025, 2, 1))),
        settings(
            fleet=FleetKeys(hours_per_year=90.0), hours=HoursKeys(carry_to_analysis_date=True)
        ),
    ]
    for other in others:
        again = running_among(rows, spells, other)
        assert again != found
        assert again == find_running(rows, other)
    assert [e.engine for e in running_among(rows[:1], spells, settings())] == ["A"]


def test_rates_come_from_the_engine_else_the_study_else_the_fleet():
    new = dt.date(2022, 9, 30)
    rows = [
        life("A", 600.0, in_service=new, last_reading=TODAY),
        life("B", 300.0, in_service=dt.date(2026, 8, 30), last_reading=TODAY),  # too short a record
        life("C", 500.0, entry_h=200.0, observed_from=dt.date(2024, 9, 30), last_reading=TODAY),
        life("D", 100.0),
    ]
    by = {e.engine: e for e in find_running(rows, settings())}
    assert by["A"].use_h == pytest.approx(150.0, rel=0.01)
    assert by["C"].use_h == pytest.approx(150.0, rel=0.01)
    assert (by["A"].use_from, by["B"].use_from, by["D"].use_from) == ("own", "fleet", "fleet")
    assert by["D"].read_on == ""
    known = settings(fleet=FleetKeys(hours_per_year=90.0))
    stated = {e.engine: e for e in find_running(rows, known)}
    assert (stated["D"].use_h, stated["D"].use_from) == (90.0, "stated")
    alone = find_running([life("D", 100.0)], settings())[0]
    assert alone.use_from == "none"
    assert math.isnan(alone.use_h)


def test_an_engine_counts_once_with_its_last_life_and_not_after_its_end():
    rows = [
        life("A-1", 1200.0, "modified"),
        life("a1", 1500.0, entry_h=1200.0),
        life("B", 800.0),
        life("B", 900.0, "failed", cause="piston"),
        life("C", 700.0, "lost"),
        life("D", 300.0, "removed-finding"),
    ]
    assert [(e.engine, e.age_h) for e in find_running(rows, settings())] == [("a1", 1500.0)]


def test_stale_readings_are_marked_and_carried_only_by_choice():
    old = life("A", 500.0, in_service=dt.date(2014, 9, 30), last_reading=dt.date(2024, 9, 30))
    e = find_running([old], settings())[0]
    assert (e.stale, e.age_h) == (True, 500.0)
    carried = find_running([old], settings(hours=HoursKeys(carry_to_analysis_date=True)))[0]
    assert carried.age_h == pytest.approx(600.0, rel=0.01)


def test_equal_engines_are_repeated():
    engines = find_running([life("lot", 300.0, count=3)], settings())
    assert list(ages_of(engines)) == [300.0] * 3
    assert list(widths_of(engines, months=12, hours=80.0)) == [80.0] * 3


@pytest.fixture(scope="module")
def fleet():
    rng = np.random.default_rng(4)
    age = np.sort(rng.uniform(100.0, 1600.0, 150))
    t = 1800.0 * rng.weibull(2.5, 150)
    failed = t < age
    spells = Spells.of(np.zeros(150), np.minimum(t, age), failed)
    rows = [life(f"E{i}", float(a), last_reading=TODAY) for i, a in enumerate(age) if not failed[i]]
    return spells, rows


def test_hours_told_as_a_range_take_the_worse_edge_and_say_so(fleet):
    """Asked both ways: the range has the chance of the same engine at the worse of its edges."""
    spells, rows = fleet
    s, fit = settings(), fit_weibull(spells)
    alone = [r for r in rows if r.exit_h < 900.0]

    def one(low, high):
        told = life("R", low, last_reading=TODAY, exit_high_h=high)
        o = look_ahead(spells, fit, find_running([*alone, told], s), s)
        return next(e for e in o.engines if e.engine == "R")

    between, low, high = one(500.0, 800.0), one(500.0, None), one(800.0, None)
    assert low.next_100.high < high.next_100.high  # these engines wear
    for name in ("next_check", "next_100"):
        mine, worse = getattr(between, name), getattr(high, name)
        assert (mine.estimate, mine.low, mine.high) == pytest.approx(
            (worse.estimate, worse.low, worse.high), rel=1e-9
        )
    assert between.remaining_h == pytest.approx(min(low.remaining_h, high.remaining_h), rel=1e-9)
    assert (between.age_h, between.age_high_h) == (500.0, 800.0)
    assert "its hours are told as 500 to 800: its chance is that at the edge" in between.reason
    assert low.signs == high.signs == ()
    open_end = one(500.0, math.inf)
    assert open_end.next_100.high == pytest.approx(low.next_100.high, rel=1e-9)
    assert "at least 500" in open_end.reason
    assert open_end.age_high_h is None


def test_a_range_past_the_evidence_counts_up_to_its_end(fleet):
    spells, rows = fleet
    s, horizon = settings(), spells.horizon_h(least=settings().evidence.min_at_risk)
    told = life("R", horizon - 200.0, last_reading=TODAY, exit_high_h=horizon + 400.0)
    o = look_ahead(spells, fit_weibull(spells), find_running([*rows, told], s), s)
    (mine,) = (e for e in o.engines if e.engine == "R")
    assert not mine.beyond
    assert "as far as the evidence reaches" in mine.reason


def test_the_forecast_counts_a_range_at_its_worse_edge(fleet):
    """Asked both ways: the range is forecast as the same engine at the worse of its edges."""
    spells, rows = fleet
    s, fit = settings(forecast=ForecastKeys(hours=100.0)), fit_weibull(spells)
    few = [r for r in rows if r.exit_h < 300.0][:3]

    def told(low, high):
        mine = life("R", low, last_reading=TODAY, exit_high_h=high)
        return forecast_fleet(spells, fit, find_running([*few, mine], s), s)

    between, at_high, at_low = told(500.0, 1000.0), told(1000.0, None), told(500.0, None)
    assert between.failures.expected == pytest.approx(at_high.failures.expected, rel=1e-9)
    assert between.failures.expected > 1.2 * at_low.failures.expected
    assert (between.n_between, at_high.n_between) == (1, 0)
    assert any("told as a range" in x for x in between.sentences)
    assert not any("told as a range" in x for x in at_high.sentences)


def test_the_worse_edge_is_that_of_the_higher_chance(fleet):
    spells, _ = fleet
    s = settings()
    draws = draws_ahead(spells, s, 400, top_h=1000.0)
    told = find_running([life("R", 500.0, exit_high_h=800.0), life("S", 600.0)], s)
    at = {e.engine: e.age_h for e in at_worse_edge(told, draws, np.full(2, 100.0))}
    assert at == {"R": 800.0, "S": 600.0}


def test_rank_is_by_signs_then_by_the_upper_edge_and_past_the_horizon_apart(fleet):
    spells, rows = fleet
    horizon = spells.horizon_h()
    s = settings(forecast=ForecastKeys(planned_overhaul_h=1500.0))
    engines = find_running(rows, s)
    young, old = engines[-1].engine, engines[0].engine
    signs = {young: (Sign(weight=2, text="odd"),), old: (Sign(weight=3, text="chips"),)}
    o = look_ahead(spells, fit_weibull(spells), engines, s, signs)
    assert [e.engine for e in o.ranked[:2]] == [old, young]
    assert o.ranked[0].beyond
    assert o.ranked[0].age_h > horizon
    uppers = [e.next_100.high for e in o.ranked[2:]]
    assert uppers == sorted(uppers, reverse=True)
    assert all(e.age_h <= horizon for e in o.ranked[1:])
    assert o.apart
    assert all(e.age_h > horizon and e.rank is None for e in o.apart)
    assert len(o.engines) == len(engines)
    assert f"Look first at {old}" in o.sentences[0]
    assert f"Look soon at {young}" in o.sentences[1]
    assert "clean bill" in o.sentences[-1]
    assert [c.code for c in o.cautions] == ["past-support"]


def test_chances_hold_the_bands_of_the_report_and_those_of_all_laws(fleet):
    """Edges are the outer of both, within 2 % of a band asked at the engine's own hours."""
    from fleetstats.bands.choose import band
    from fleetstats.bands.quantity import Quantity

    spells, rows = fleet
    fit, s = fit_weibull(spells), settings()
    o = look_ahead(spells, fit, find_running(rows, s), s)
    draws = draws_ahead(spells, s, DRAWS, top_h=o.engines[-1].age_h + 100.0)
    assert len(draws.laws) > 1
    e = next(e for e in o.ranked if e.age_h < 900.0)
    cases = [(e, e.to_overhaul, 1200.0 - e.age_h)]
    for e in (o.ranked[0], o.ranked[len(o.ranked) // 2]):
        cases += [(e, e.next_check, 50.0), (e, e.next_100, 100.0)]
    for e, chance, width in cases:
        want = band(spells, fit, Quantity.conditional(e.age_h, width), level=0.90)
        low, high = np.quantile(draws.conditional_failure(e.age_h, width), (0.05, 0.95))
        assert chance.width_h == pytest.approx(width)
        assert chance.high == pytest.approx(max(want.high, high), rel=0.04)
        assert chance.low == pytest.approx(min(want.low, low), rel=0.04)
        told = shrunk_chance(spells, draws, np.array([e.age_h]), width)
        assert chance.estimate == pytest.approx(told[0], rel=0.02)
    past = next(e for e in o.engines if e.age_h > 1200.0)
    assert past.to_overhaul is None


def test_remaining_life_is_not_shown_past_the_evidence(fleet):
    spells, rows = fleet
    s = settings()
    o = look_ahead(spells, fit_weibull(spells), find_running(rows, s), s)
    for e in o.engines:
        for left in (e.remaining_low_h, e.remaining_h, e.remaining_high_h):
            assert left is None or e.age_h + left <= o.horizon_h
    young = min(o.ranked, key=lambda e: e.age_h)
    assert young.remaining_low_h < young.remaining_h < young.remaining_high_h
    assert young.worn == 0.0
    assert o.apart[0].remaining_h is None


def test_with_no_failure_the_upper_edge_is_honest_and_the_lower_missing():
    n = 120
    spells = Spells.of(np.zeros(n), np.linspace(50.0, 1450.0, n), np.zeros(n, dtype=bool))
    rows = [life(f"E{i}", float(h)) for i, h in enumerate(spells.exit_upper)]
    s = settings()
    o = look_ahead(spells, None, find_running(rows, s), s)
    e = o.ranked[0]
    assert not e.next_100.low
    assert "up to" in e.reason
    # Given any shape, zero failures leave the expected number in this exposure at 3.0 at least.
    assert e.next_100.high > 0.005
    assert o.method == "shape-mixture"


def test_no_running_engine_no_outlook(fleet):
    spells, _ = fleet
    assert look_ahead(spells, None, (), settings()) is None


def test_the_section(fleet):
    spells, rows = fleet
    s = settings()
    o = look_ahead(spells, fit_weibull(spells), find_running(rows, s), s)
    section = compose_outlook(o)
    keys = [b.key for b in section.blocks if hasattr(b, "key")]
    assert keys == ["outlook-watch-list", "outlook-chances", "outlook-engines", "outlook-apart"]
    text = " ".join(b.text for b in section.blocks if hasattr(b, "text"))
    assert not FORBIDDEN.search(text)


def test_too_many_engines_are_refused_with_advice():
    lot = find_running([life("lot", 300.0, count=60_000)], settings())
    with pytest.raises(FitError, match=r"60,000 engines run.*Make a study of each family"):
        look_ahead(Spells.of([0.0], [300.0], [False]), None, lot, settings())


def test_chances_of_very_many_engines_are_read_off_within_what_is_said() -> None:
    rng = np.random.default_rng(4)
    life = 1500.0 * rng.weibull(2.2, 300)
    seen = rng.uniform(100.0, 1600.0, 300)
    spells = Spells.of(0, np.minimum(life, seen), life < seen)
    draws = draws_ahead(spells, Settings(), 100, top_h=1700.0)
    ages = rng.uniform(0.5, 1600.0, MOST_AGES + 500)
    asked = []

    def work(t):
        asked.append(len(t))
        chances = (draws.conditional_failure(t, w) for w in (50.0, 1700.0 - t))
        return np.concatenate([np.quantile(x, (0.05, 0.5, 0.95), axis=0) for x in chances])

    told = at_ages(ages, work)
    assert asked[-1] <= MOST_AGES + NEAR_START
    off = np.abs(told / work(ages) - 1.0)
    assert off.max() < 1e-3
    assert np.quantile(off, 0.9) < 1e-5
    # of fewer ages each is worked out, once
    few = np.array([900.0, 30.0, 900.0])
    np.testing.assert_array_equal(at_ages(few, work), work(few))
    assert asked[-2:] == [2, 3]
