"""Every public result has one shape: our own rules, no outside source.

The results are found by asking the public estimators, each with a small made fleet; a class that
the package gives back and that is not asked here fails the count.
"""

from __future__ import annotations

import json
from dataclasses import fields
from typing import Any

import numpy as np
import pandas as pd
import pytest

import fleetstats as fs
from fleetstats.core.value import Value

N = 60
HOURS = np.linspace(100.0, 1500.0, N)
FAILED = np.arange(N) % 4 == 1
LIVES = fs.Spells.of(
    0,
    HOURS,
    [fs.Event.FAILED if f else fs.Event(2 * (k % 5 == 0)) for k, f in enumerate(FAILED)],
    unit=[f"E{k}" for k in range(N)],
    cause=np.where(FAILED, np.where(np.arange(N) % 8 == 1, "gear", "valve"), ""),
    source=np.where(np.arange(N) % 3 == 0, "north", "south"),
    build=np.where(np.arange(N) % 2 == 0, "old", "new"),
)
FIT = fs.fit_weibull(LIVES)
POWER = fs.build_covariates(LIVES, {"power": np.arange(float(N)) % 7})
SEEN = fs.Histories.of(
    ["a", "b", "c"], 0.0, [900.0, 800.0, 950.0], list("aabbcc"), [100.0, 700, 300, 500, 90, 640]
)
RUNS = fs.StressRuns.of(
    [1.0, 1.0, 1.0, 2.0, 2.0, 2.0], [90.0, 110.0, 130.0, 30.0, 44.0, 50.0], [True] * 6
)
RESULTS: dict[str, Any] = {
    type(x).__name__: x
    for x in (
        FIT,
        fs.fit_families(LIVES),
        fs.estimate_product_limit(LIVES),
        fs.estimate_cumulative_hazard(LIVES),
        fs.estimate_simultaneous_band(LIVES),
        fs.estimate_turnbull(LIVES),
        fs.estimate_turnbull_limits(LIVES, [400.0, 900.0]),
        fs.estimate_incidence(LIVES),
        fs.estimate_outer_band(LIVES),
        fs.estimate_exposure(LIVES, [0.0, 500.0, 1500.0]),
        fs.estimate_median_ranks(LIVES),
        fs.estimate_rank_limits(LIVES),
        fs.estimate_rank_line(LIVES),
        fs.estimate_plot_points(LIVES),
        fs.estimate_joint_region(FIT, level=0.9),
        fs.check_goodness(FIT),
        fs.band(LIVES, FIT, fs.Quantity.life(0.10), level=0.9),
        fs.band_curve(LIVES, FIT, "reliability", [400.0, 900.0], level=0.9),
        fs.fit_causes(LIVES)[0],
        fs.compare_groups(LIVES, "build"),
        fs.compare_rates(3, 1000.0, 5, 1500.0),
        fs.compare_equal_ages(LIVES, np.arange(N) % 2 == 0),
        fs.fit_between(LIVES, by="source", level=0.9, p=0.1),
        fs.estimate_growth(LIVES, ("old", "new")),
        fs.fit_accelerated(LIVES, POWER),
        fs.fit_proportional(LIVES, POWER),
        fs.fit_stratified(LIVES, POWER, LIVES.build),
        fs.fit_stress_life(RUNS),
        fs.estimate_mean_cumulative(SEEN),
        fs.fit_power_law(SEEN),
        fs.estimate_trend(SEEN),
        fs.poisson_law(2.0),
        fs.resample_fits(LIVES, 20, seed=3),
    )
}
CURVES = [x for x in RESULTS.values() if hasattr(x, "at") and type(x).__name__ != "Incidence"]

APART = {
    "Between": {"rivals", "chances"},
    "GroupComparison": {"tests"},
    "Fit": {"names", "covariance", "converged", "spells"},
    "CauseFit": {"fit"},
}
"""Fields that stay out of a table: lists of values with tables of their own, and what `parameter`
and `std_error` stand for."""


@pytest.mark.parametrize("name", sorted(RESULTS))
def test_a_table_holds_the_whole_content_of_a_result(name: str) -> None:
    held = RESULTS[name]
    frame = held.to_frame()
    assert isinstance(frame.index, pd.RangeIndex)
    assert len(frame)
    assert frame.columns.is_unique
    heads = {c.removeprefix("all_").split("[")[0] for c in frame}
    named = {f.name for f in fields(held)} - set(held._carried) - APART.get(name, set())
    named = {n for n in named if np.size(getattr(held, n)) and getattr(held, n) is not None}
    named = {n for n in named if not isinstance(getattr(held, n), dict) or getattr(held, n)}
    lost = {n for n in named if n not in heads and not any(h.startswith(f"{n}_") for h in heads)}
    assert lost <= {held._lines}, lost
    if held._lines:
        assert len(frame) >= len(getattr(held, held._lines))
    assert "scale" not in heads


@pytest.mark.parametrize("name", sorted(RESULTS))
def test_a_result_is_plain_data_and_html_and_says_why_it_has_no_hash(name: str) -> None:
    held = RESULTS[name]
    assert isinstance(held, Value)
    assert json.loads(json.dumps(held.to_dict(), allow_nan=False))["schema"].startswith(
        "fleetstats/"
    )
    shown = held._repr_html_()
    assert shown.startswith("<p")
    assert "<table" in shown
    with pytest.raises(TypeError, match=f"{name} has no hash, since"):
        hash(held)


@pytest.mark.parametrize("curve", CURVES, ids=lambda x: type(x).__name__)
def test_a_curve_answers_a_number_by_a_float_and_hours_by_an_array(curve: Any) -> None:
    one, more = curve.at(500.0), curve.at([400.0, 500.0, 600.0])
    assert isinstance(one, float)
    assert isinstance(more, np.ndarray)
    assert more.shape == (3,)
    assert more[1] == one
    if not hasattr(curve, "low"):
        return
    low, high = curve.limits_at(500.0)
    assert isinstance(low, float)
    assert isinstance(high, float)
    assert low <= one * (1 + 1e-12)
    assert one <= high * (1 + 1e-12)
    assert [x.shape for x in curve.limits_at([400.0, 500.0])] == [(2,), (2,)]


def test_a_fit_answers_in_the_shape_of_the_question() -> None:
    for ask in (FIT.reliability, FIT.hazard, FIT.cumulative_hazard):
        assert isinstance(ask(500.0), float)
        assert ask([500.0]).shape == (1,)
        assert ask(np.full((2, 3), 500.0)).shape == (2, 3)
    assert isinstance(FIT.quantile(0.1), float)
    assert isinstance(FIT.conditional_failure(500.0, 100.0), float)


def test_a_band_is_read_between_its_ages_and_nowhere_else() -> None:
    curve = RESULTS["Band"]
    assert curve.at(400.0) == curve.estimate[0]
    assert curve.at(650.0) == pytest.approx(curve.estimate.mean())
    assert np.isnan(curve.at([399.0, 901.0])).all()
    assert np.isnan(curve.limits_at(901.0)).all()


def test_lines_stand_beside_what_holds_for_all_of_them() -> None:
    between = RESULTS["Between"]
    frame = between.to_frame()
    assert frame["scale_h"].tolist() == [s.scale_h for s in between.sources]
    assert (frame["new_scale_h"] == between.new.scale_h).all()
    shares = RESULTS["Incidence"]
    for k, label in enumerate(shares.labels):
        assert shares.to_frame()[f"incidence[{label}]"].tolist() == shares.incidence[k].tolist()


def test_a_family_is_known_by_every_name_that_is_printed() -> None:
    for fit in RESULTS["Comparison"].fits:
        for name in (fit.family, fit.distribution.title, fit.distribution.title.upper()):
            assert fs.fit_family(LIVES, name) == fit
    with pytest.raises(fs.ArgumentError, match="Did you mean 'loglogistic'"):
        fs.fit_family(LIVES, "loglogistics")
