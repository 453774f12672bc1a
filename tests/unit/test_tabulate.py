"""The grid of the page that answers back: it starts at the report and moves the right way."""

from __future__ import annotations

import functools
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fleetstats.advice.advise import advise_hours
from fleetstats.chapters.page_grid.compute import chapter_tabulated
from fleetstats.core.units import round_hours
from fleetstats.document.tabulated import Readout, Tabulated
from fleetstats.spells import Spells
from fleetstats.study.settings import CostKeys, EvidenceKeys, Settings, StudyKeys, TargetKeys
from fleetstats.survival.weibull.fit_weibull import try_fit


@functools.cache
def base_of(n_failed: int) -> Any:
    """Return what the grid asks of a study: lives by Weibull shape 3, scale 1,500 h."""
    n = 60
    age = 1500.0 * (-np.log(1 - (np.arange(n) + 0.5) / n)) ** (1 / 3)
    stop = 200.0 + 1400.0 * ((np.arange(n) * 37) % n) / n
    failed = age < stop
    failed &= np.cumsum(failed) <= n_failed
    spells = Spells.of(0.0, np.where(failed, age, stop), failed)
    settings = Settings(
        study=StudyKeys(title="t", claimed_interval_h=700.0, seed=7),
        targets=TargetKeys(risk_per_check=0.02, reliability=0.90),
        cost=CostKeys(ratio=5.0),
        evidence=EvidenceKeys(resamples=800),
    )
    fit = try_fit(spells)
    advice = advise_hours(spells, fit, settings)
    return SimpleNamespace(spells=spells, fit=fit, settings=settings, advice=advice)


@functools.cache
def grid_of(n_failed: int) -> Tabulated:
    return chapter_tabulated(base_of(n_failed), {})


def cube(tab: Tabulated, reading: Readout) -> np.ndarray:
    sizes = {k.key: len(k.values) for k in tab.knobs}
    return reading.values.reshape([sizes[a] for a in reading.axes])


def find(tab: Tabulated, row: str, part: str) -> Readout:
    return next(r for r in tab.readings if r.row.startswith(row) and r.part == part)


@pytest.mark.parametrize("n_failed", [0, 25])
def test_it_starts_at_the_report_and_never_moves_the_wrong_way(n_failed: int) -> None:
    tab, a = grid_of(n_failed), base_of(n_failed).advice
    assert a.verdict is not None
    # where the study stands, the grid holds the report's own figures
    assert tab.look_up(find(tab, "Verdict", "word"))[0] == a.verdict.reading
    low = find(tab, "Share of engines", "low")
    assert tab.look_up(low)[0] == pytest.approx(a.verdict.reliability.low, abs=1e-12)
    for part, edge in (
        ("low", a.overhaul_band.plan_from),
        ("estimate", a.overhaul_band.expect_at),
        ("high", a.overhaul_band.not_beyond),
    ):
        assert tab.look_up(find(tab, "Overhaul band", part))[0] == edge.hours
    # reliability falls with hours; a surer bound and more unreported failures never raise it
    r = cube(tab, low)
    assert np.all(np.diff(r, axis=0) <= 1e-12)
    assert np.all(np.diff(r, axis=1) <= 1e-12)
    assert np.all(np.diff(r, axis=2) <= 1e-9)
    # checks further apart pass the accepted chance no later
    age = cube(tab, find(tab, "Age at which", "low"))
    assert np.all(np.diff(np.nan_to_num(age, nan=1e9), axis=0) <= 0)
    # no verdict of support past the evidence
    word = cube(tab, find(tab, "Verdict", "word"))
    claims = tab.knobs[0].values
    assert np.all(word[claims > a.horizon.supported_h] > 0)


def test_unreported_failures_turn_the_verdict_where_the_report_says() -> None:
    v = base_of(0).advice.verdict
    assert v is not None
    assert v.word == "supported"
    assert v.hidden_to_turn is not None
    tab = grid_of(0)
    word = find(tab, "Verdict", "word")
    hidden = next(k for k in tab.knobs if k.key == "hidden").values.tolist()
    assert v.hidden_to_turn in hidden
    turned = [tab.look_up(word, hidden=k)[0] != v.reading for k in hidden]
    assert turned == [k >= v.hidden_to_turn for k in hidden]


def test_the_cheapest_age_is_that_of_a_study_with_these_settings() -> None:
    base, tab = base_of(25), grid_of(25)
    ages = {part: find(tab, "Cheapest age", part) for part in ("low", "estimate", "high")}
    of = {k.key: k.values.tolist() for k in tab.knobs}
    assert ages["low"].axes == ("cost_ratio", "confidence", "hidden")
    for ratio, level in ((2.0, 0.80), (8.0, 0.95)):
        settings = replace(
            base.settings,
            study=replace(base.settings.study, confidence=level),
            cost=CostKeys(ratio=ratio),
        )
        own = advise_hours(base.spells, base.fit, settings).cost.optimum
        assert own is not None
        at = (of["cost_ratio"].index(ratio), of["confidence"].index(level), 0)
        for part, edge in (("low", own.low), ("estimate", own.estimate), ("high", own.high)):
            down = True if part == "low" else None
            assert cube(tab, ages[part])[at] == round_hours(edge, down=down)


def test_cost_is_asked_only_where_the_report_answers_it() -> None:
    few, many = grid_of(0), grid_of(25)
    assert "cost_ratio" not in {k.key for k in few.knobs}
    assert "cost_ratio" in {k.key for k in many.knobs}
    age = cube(many, find(many, "Cheapest age", "estimate"))
    # dearer failures call for earlier overhaul
    assert np.all(np.diff(age, axis=0)[np.isfinite(np.diff(age, axis=0))] <= 0)
