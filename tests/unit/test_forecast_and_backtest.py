"""The fleet's forecast and the look back: each number by a second road."""

import datetime as dt
import re
from dataclasses import replace

import numpy as np
import pytest

from fleetstats.chapters.ahead.backtest import backtest_forecast
from fleetstats.chapters.ahead.failures_ahead import draws_ahead
from fleetstats.chapters.ahead.forecast import forecast_fleet
from fleetstats.chapters.ahead.forecast_section import compose_forecast
from fleetstats.document.words import FORBIDDEN
from fleetstats.records.life import LifeRow
from fleetstats.spells import Event, Spells
from fleetstats.spells.running import find_running
from fleetstats.study.settings import CostKeys, ForecastKeys, Settings, StudyKeys
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.vocabulary.finding import Origin

TODAY = dt.date(2026, 9, 30)
USE = 150.0


def settings(**tables):
    tables.setdefault("forecast", ForecastKeys(draws=400))
    return Settings(study=StudyKeys(title="t", analysis_date=TODAY), **tables)


def make(seed, *, n=150, shape=2.5, scale=1800.0, findings=0, use=USE):
    """A fleet flown at one rate since new; failures where the draws put them."""
    rng = np.random.default_rng(seed)
    age = np.sort(rng.uniform(100.0, 1600.0, n))
    t = scale * rng.weibull(shape, n)
    failed = t < age
    end = np.minimum(t, age)
    event = np.where(failed, Event.FAILED, Event.CENSORED)
    event[np.flatnonzero(~failed)[:findings]] = Event.FINDING
    spells = Spells.of(np.zeros(n), end, [Event(int(k)) for k in event])
    rows = []
    for i in range(n):
        new = TODAY - dt.timedelta(days=round(age[i] / use * 365.25))
        last = new + dt.timedelta(days=round(end[i] / use * 365.25))
        kind = {0: "running", 1: "failed", 3: "removed-finding"}[int(event[i])]
        done = kind != "running"
        rows.append(
            LifeRow(
                origin=Origin(file="l.csv", row=i + 2),
                engine=f"E{i}",
                exit_h=float(end[i]),
                ending=kind,
                in_service=new,
                last_reading=None if done else last,
                ended=last if done else None,
            )
        )
    return spells, rows


@pytest.fixture(scope="module")
def fleet():
    return make(1, findings=4)


def test_failures_are_the_mean_over_the_draws(fleet):
    spells, rows = fleet
    s = settings(forecast=ForecastKeys(hours=120.0, draws=400))
    engines = find_running(rows, s)
    f = forecast_fleet(spells, fit_weibull(spells), engines, s)
    age = np.array([e.age_h for e in engines])
    draws = draws_ahead(spells, s, 400, top_h=float(age.max()) + 120.0)
    p = draws.conditional_failure(age, 120.0)
    assert f.failures.expected == pytest.approx(p.sum(axis=1).mean(), rel=1e-9)
    assert f.failures.none == pytest.approx(np.prod(1 - p, axis=1).mean(), rel=1e-9)
    assert f.fleet_hours == pytest.approx(120.0 * len(engines))
    # A second road: outcomes drawn one by one.
    rng = np.random.default_rng(3)
    n = (rng.random((50, *p.shape)) < p).sum(axis=2).ravel()
    assert f.failures.low == pytest.approx(np.quantile(n, 0.05), abs=1)
    assert f.failures.high == pytest.approx(np.quantile(n, 0.95), abs=1)
    assert f.season is None
    assert f.plug_in[1] - f.plug_in[0] <= f.failures.high - f.failures.low


def test_months_run_at_each_engines_own_rate(fleet):
    spells, rows = fleet
    s = settings(forecast=ForecastKeys(months=8.0, draws=400))
    f = forecast_fleet(spells, None, find_running(rows, s), s)
    assert f.fleet_hours == pytest.approx(f.n_running * USE * 8 / 12, rel=0.01)
    assert f.span.startswith("the next 8 months")
    assert list(f.season.month) == pytest.approx(np.arange(1, 9))
    # the last month of the table is the season of the sentence, to the last digit shown
    assert f.season.expected[-1] == pytest.approx(f.failures.expected, rel=1e-9)
    assert np.all(np.diff(f.season.expected) > 0)
    assert np.all(np.diff(f.season.alert) >= 0)


def test_the_alert_level_holds_over_all_looks_together(fleet):
    spells, rows = fleet
    s = settings(forecast=ForecastKeys(draws=400, false_alarm=0.10))
    f = forecast_fleet(spells, None, find_running(rows, s), s)
    assert f.season.false_alarm_held <= 0.10
    # A second road: fresh seasons from the same draws.
    engines = find_running(rows, s)
    age = np.array([e.age_h for e in engines])
    width = np.array([e.use_h for e in engines])
    draws = draws_ahead(spells, s, 400, top_h=float((age + width).max()))
    rng = np.random.default_rng(5)
    pick = draws.select(rng.integers(len(draws), size=3000))
    u = rng.random((3000, len(age)))
    counts = np.stack(
        [(u < pick.conditional_failure(age, width * m / 12)).sum(axis=1) for m in range(1, 13)],
        axis=1,
    )
    rate = (counts >= f.season.alert).any(axis=1).mean()
    assert rate <= 0.10 + 3 * np.sqrt(0.09 / 3000) + 0.01
    assert rate > 0.03


def test_overhauls_findings_and_removals_add_up(fleet):
    spells, rows = fleet
    s = settings(forecast=ForecastKeys(draws=400, planned_overhaul_h=1200.0))
    engines = find_running(rows, s)
    f = forecast_fleet(spells, None, engines, s)
    due = sum(1200.0 - e.use_h <= e.age_h < 1200.0 for e in engines)
    assert 0 < f.overhauls.expected <= due
    assert f.overhauls.expected > 0.7 * due
    assert f.past_planned == sum(e.age_h >= 1200.0 for e in engines)
    rate = (4 + 0.5) / spells.exposure_h
    assert f.findings.expected == pytest.approx(rate * f.fleet_hours, rel=1e-6)
    # An engine that is due goes out either way, so removals are fewer than the plain sum.
    parts = f.failures.expected + f.overhauls.expected + f.findings.expected
    assert f.removals.expected < parts
    assert f.removals.expected > due + f.findings.expected


def test_spares_cover_one_repair_time(fleet):
    spells, rows = fleet
    s = settings(forecast=ForecastKeys(draws=400, repair_months=3.0, service_level=0.8))
    f = forecast_fleet(spells, None, find_running(rows, s), s)
    assert list(f.spares.needed) == sorted(f.spares.needed)
    assert f.spares.at_stated == f.spares.needed[f.spares.levels.index(0.8)]
    slower = settings(forecast=ForecastKeys(draws=400, repair_months=9.0, service_level=0.8))
    g = forecast_fleet(spells, None, find_running(rows, slower), slower)
    assert g.spares.at_stated > f.spares.at_stated


def test_the_reserve_is_money_over_hours_and_refused_without_a_ratio(fleet):
    spells, rows = fleet
    plain = settings()
    f = forecast_fleet(spells, None, find_running(rows, plain), plain)
    assert f.reserve is None
    assert "[cost] ratio" in f.no_reserve
    s = settings(
        cost=CostKeys(ratio=4.0, planned=14_000.0, currency="EUR"),
        forecast=ForecastKeys(draws=400, planned_overhaul_h=1200.0),
    )
    f = forecast_fleet(spells, None, find_running(rows, s), s)
    r = f.reserve
    assert list(r.per_h) == sorted(r.per_h)
    rough = 14_000.0 * (
        4.0 * f.failures.expected + f.overhauls.expected + f.findings.expected
    ) / f.fleet_hours  # fmt: skip
    # Failures after the planned hours fall away, since the engine is overhauled by then.
    assert 0.85 * rough < r.mean_per_h < 1.02 * rough
    a, b, c = r.long_run_per_h
    assert a < b < c


def test_what_lies_past_the_evidence_is_told(fleet):
    spells, rows = fleet
    s = settings(forecast=ForecastKeys(draws=400, hours=600.0))
    f = forecast_fleet(spells, None, find_running(rows, s), s)
    horizon = spells.horizon_h()
    assert f.horizon_h == horizon
    assert f.beyond == sum(e.age_h + 600.0 > horizon for e in find_running(rows, s))
    assert 0.1 < f.share_beyond < 1.0
    assert any("extrapolation" in t for t in f.sentences)
    (past,) = (c for c in f.cautions if c.code == "past-support")
    # The engines' whole count is more than the part of it that lies past the evidence.
    (share,) = re.findall(r"engines that bring (\d+) % of the expected failures", past.value)
    assert int(share) > 100 * f.share_beyond


def test_few_failures_rest_on_the_prior_and_say_so():
    n = 120
    spells = Spells.of(np.zeros(n), np.linspace(50.0, 1450.0, n), np.arange(n) == 60)
    rows = [
        LifeRow(origin=Origin(file="l.csv", row=2), engine=f"E{i}", exit_h=float(h),
                ending="running")
        for i, h in enumerate(spells.exit_upper)
    ]  # fmt: skip
    s = settings()
    f = forecast_fleet(spells, None, find_running(rows, s), s)
    assert f.method == "shape-mixture"
    assert "prior-driven" in [c.code for c in f.cautions]
    assert f.span == "the next 100 h of each engine"  # nothing tells a rate of use
    assert f.plug_in is None


def test_no_running_engine_no_forecast(fleet):
    spells, _ = fleet
    assert forecast_fleet(spells, None, (), settings()) is None


def test_the_same_seed_gives_the_same_forecast(fleet):
    spells, rows = fleet
    s = settings(cost=CostKeys(ratio=4.0))
    a, b = (forecast_fleet(spells, None, find_running(rows, s), s) for _ in range(2))
    assert a == b
    other = replace(s, study=replace(s.study, seed=7))
    assert forecast_fleet(spells, None, find_running(rows, other), other) != a


def test_backtest_by_hand():
    """Engines flown 150 h a year: a year ago each had 150 h less, unless it ended before."""
    spells, rows = make(2)
    b = backtest_forecast(rows, spells, settings())
    end = spells.exit_upper
    born = np.array([(TODAY - r.in_service).days for r in rows])
    last = np.array([(TODAY - r.last_date).days for r in rows])
    then = (last < 365) & (born > 365)
    assert b.at == dt.date(2025, 9, 30)
    assert b.n_then == then.sum()
    assert b.seen == int((spells.failed & then).sum())
    assert b.n_failed_then == int((spells.failed & (last >= 365)).sum())
    hours = np.where(last >= 365, end, end - USE / 365.25 * (365 - last))
    assert b.hours_then == pytest.approx(hours[born > 365].sum(), rel=0.01)
    # A failed engine is forecast to the analysis date: at the time nobody knew of its failure.
    ahead = np.where(spells.failed, 365, 365 - last) * USE / 365.25
    assert b.hours_ahead == pytest.approx(ahead[then].sum(), rel=0.01)
    assert b.n_undated == 0
    assert b.verdict in ("inside", "fewer", "more")


def test_backtest_leaves_undated_lives_out_and_says_so():
    spells, rows = make(2)
    bare = [replace(r, in_service=None) if i % 2 else r for i, r in enumerate(rows)]
    b = backtest_forecast(bare, spells, settings())
    assert b.n_undated == len(rows) // 2
    assert "no dates" in b.sentences[-1]
    none = [replace(r, in_service=None) for r in rows]
    assert backtest_forecast(none, spells, settings()) is None


def test_backtest_sees_a_change_that_came():
    """Within the last year ten engines fail at once: more than the forecast of then holds."""
    spells, rows = make(3, scale=4000.0)
    running = [i for i, r in enumerate(rows) if r.ending == "running" and r.exit_h > 400.0][:14]
    event = spells.event.copy()
    event[running] = Event.FAILED
    changed = [
        replace(r, ending="failed", ended=r.last_reading) if i in running else r
        for i, r in enumerate(rows)
    ]
    b = backtest_forecast(changed, spells.replace(event=event), settings())
    assert b.verdict == "more"
    assert b.chance < 0.05
    assert "Look for what changed" in b.sentences[1]


def test_the_section(fleet):
    spells, rows = fleet
    s = settings(
        cost=CostKeys(ratio=4.0), forecast=ForecastKeys(draws=400, planned_overhaul_h=1200.0)
    )
    f = forecast_fleet(spells, fit_weibull(spells), find_running(rows, s), s)
    section = compose_forecast(f, backtest_forecast(rows, spells, s))
    keys = [b.key for b in section.blocks if hasattr(b, "key")]
    assert keys == [
        "forecast",
        "forecast-counts",
        "forecast-season",
        "forecast-spares",
        "forecast-reserve",
    ]
    text = " ".join(b.text for b in section.blocks if hasattr(b, "text"))
    assert "this tool would have said" in text
    assert not FORBIDDEN.search(text)
