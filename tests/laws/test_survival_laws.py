"""What must hold for every fleet, whatever its lives."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetstats.core import NoMaximum
from fleetstats.spells import Spells
from fleetstats.survival import (
    FAMILIES,
    estimate_cumulative_hazard,
    estimate_exposure,
    estimate_incidence,
    estimate_outer_band,
    estimate_product_limit,
    estimate_turnbull,
    fit_family,
    fit_weibull,
    solve_weibull,
    weibull_log_likelihood,
)

few = settings(max_examples=15, deadline=None)


@st.composite
def fleets(draw: st.DrawFn, *, interval: bool | None = None, late: bool | None = None) -> Spells:
    """Fleets with at least two failures at different ages and one life that outlives them."""
    seed = draw(st.integers(0, 2**32 - 1))
    shape = draw(st.floats(0.5, 6.0))
    n = draw(st.integers(8, 60))
    rng = np.random.default_rng(seed)
    some_late = draw(st.booleans()) if late is None else late
    found = draw(st.booleans()) if interval is None else interval
    entry = 1500 * rng.random(n) * (rng.random(n) < 0.5) if some_late else np.zeros(n)
    life = 2000 * (rng.exponential(size=n) + (entry / 2000) ** shape) ** (1 / shape)
    stop = entry + 100 + 1900 * rng.random(n)
    failed = life <= stop
    end = np.minimum(life, stop)
    # Three lives that make a maximum certain for the Weibull.
    entry[:3], end[:3], failed[:3] = 0.0, (700.0, 1100.0, end.max() + 100.0), (True, True, False)
    lower = end.copy()
    if found:
        at_check = failed & (rng.random(n) < 0.6)
        at_check[:2] = False
        lower = np.where(at_check, np.maximum(entry, 50 * np.floor(end / 50)), end)
        end = np.where(at_check, 50 * np.floor(end / 50) + 50, end)
    return Spells.of(entry, end, failed, exit_lower=lower)


def close(a: object, b: object, rel: float = 1e-7) -> bool:
    return bool(np.allclose(a, b, rtol=rel, atol=1e-9))  # type: ignore[arg-type]


@few
@given(fleets(), st.sampled_from(sorted(FAMILIES)), st.floats(1.0, 3000.0))
def test_splitting_a_life_changes_no_fit(s: Spells, family: str, cut: float) -> None:
    """A life cut at any hours into two spells is the same evidence.

    The smallest extreme value is left out: from 0 h it is not conditioned on being alive.
    """
    if family == "smallest-extreme-value":
        family = "weibull"
    whole, parts = fit_family(s, family), fit_family(s.split_at(cut), family)
    assert close(whole.estimate, parts.estimate)
    assert close(whole.covariance, parts.covariance, 1e-5)
    assert whole.log_likelihood == pytest.approx(parts.log_likelihood, rel=1e-9)


@few
@given(fleets(interval=False), st.floats(1.0, 3000.0))
def test_splitting_changes_no_curve(s: Spells, cut: float) -> None:
    parts = s.split_at(cut)
    a, b = (estimate_product_limit(x, least_at_risk=1) for x in (s, parts))
    assert close(a.reliability, b.reliability)
    assert np.allclose(a.low, b.low, rtol=1e-9, equal_nan=True)
    x, y = (estimate_exposure(z, [0, 500, 1000, 4000]) for z in (s, parts))
    assert close(x.exposure_h, y.exposure_h)
    assert close(x.n_failed, y.n_failed)
    one, two = (estimate_turnbull(z) for z in (s, parts))
    assert close(one.at(a.hours), two.at(a.hours), 1e-6)


@few
@given(fleets(), st.sampled_from(sorted(FAMILIES)), st.floats(1e-3, 1e3))
def test_hours_times_k(s: Spells, family: str, k: float) -> None:
    """Lives scale, shapes stay, log likelihood drops by log k for each exactly known failure."""
    scaled = s.replace(entry=k * s.entry, exit_lower=k * s.exit_lower, exit_upper=k * s.exit_upper)
    try:
        a = fit_family(s, family)
    except NoMaximum as refusal:
        with pytest.raises(NoMaximum, match=refusal.message[:30]):
            fit_family(scaled, family)
        return
    b = fit_family(scaled, family)
    assert close(k * a.quantile([0.01, 0.1, 0.5]), b.quantile([0.01, 0.1, 0.5]), 1e-6)
    if "shape" in a.names:
        assert a.shape == pytest.approx(b.shape, rel=1e-7)
    exact = (s.failed & ~s.interval_known).sum()
    assert b.log_likelihood == pytest.approx(a.log_likelihood - exact * np.log(k), abs=1e-6)


@few
@given(fleets(), st.randoms(use_true_random=False))
def test_order_of_rows_does_not_matter(s: Spells, random: object) -> None:
    order = np.array(random.sample(range(len(s)), len(s)))  # type: ignore[attr-defined]
    mixed = s.select(order)
    assert close(fit_weibull(s).estimate, fit_weibull(mixed).estimate, 1e-9)
    a, b = (estimate_product_limit(x, least_at_risk=1) for x in (s, mixed))
    assert close(a.reliability, b.reliability, 1e-12)
    x, y = (estimate_incidence(z) for z in (s, mixed))
    assert close(x.std_error_jackknife, y.std_error_jackknife, 1e-9)


@few
@given(fleets(), st.sampled_from(sorted(FAMILIES)))
def test_twice_the_fleet_halves_the_variance(s: Spells, family: str) -> None:
    twice = s.replace(weight=2 * s.weight)
    try:
        a = fit_family(s, family)
    except NoMaximum:
        with pytest.raises(NoMaximum):
            fit_family(twice, family)
        return
    b = fit_family(twice, family)
    assert close(a.estimate, b.estimate, 1e-6)
    assert close(a.covariance, 2 * b.covariance, 1e-4)
    assert b.log_likelihood == pytest.approx(2 * a.log_likelihood, rel=1e-9)
    rows = s.join(s)
    assert close(fit_family(rows, family).estimate, b.estimate, 1e-6)


@few
@given(fleets())
def test_equal_rows_collapse(s: Spells) -> None:
    s = s.replace(
        entry=np.floor(s.entry / 100) * 100,
        exit_lower=np.floor(s.exit_lower / 100) * 100 + 10,
        exit_upper=np.where(
            s.interval_known,
            np.floor(s.exit_lower / 100) * 100 + 60,
            np.floor(s.exit_lower / 100) * 100 + 10,
        ),
    )
    small = s.collapse()
    assert close(fit_weibull(s).estimate, fit_weibull(small).estimate, 1e-9)
    a, b = (estimate_product_limit(x) for x in (s, small))
    assert close(a.reliability, b.reliability)
    x, y = (estimate_incidence(z) for z in (s, small))
    assert close(x.std_error_jackknife, y.std_error_jackknife)
    assert close(estimate_turnbull(s).reliability, estimate_turnbull(small).reliability, 1e-6)


@few
@given(fleets())
def test_curves_fall(s: Spells) -> None:
    curve = estimate_product_limit(s)
    assert np.all(np.diff(np.concatenate([[1.0], curve.reliability])) < 0)
    assert np.all(curve.reliability >= 0)
    inside = ~np.isnan(curve.low)
    assert np.all(curve.low[inside] <= curve.reliability[inside])
    assert np.all(curve.reliability[inside] <= curve.high[inside])
    hazard = estimate_cumulative_hazard(s)
    assert np.all(np.diff(hazard.cumulative_hazard) > 0)
    # exp(-x) >= 1 - x at each age: the hazard's curve lies above the product limit.
    assert np.all(np.exp(-hazard.cumulative_hazard) >= curve.reliability)
    band = estimate_outer_band(s)
    assert np.all(band.low <= band.high + 1e-12)


@few
@given(fleets(), st.integers(0, 10))
def test_shares_add_up(s: Spells, seed: int) -> None:
    """Each life is whole or has ended in one way; with one way only, incidence is 1 - R, and its
    standard error is Greenwood's."""
    kinds = np.random.default_rng(seed).integers(1, 4, len(s))
    event = np.where(s.failed & ~s.interval_known, kinds, s.event)
    table = estimate_incidence(s.replace(event=event))
    assert close(table.incidence.sum(axis=0) + table.reliability, 1.0, 1e-12)
    one = estimate_incidence(s)
    curve = estimate_product_limit(s, least_at_risk=1)
    assert close(one.incidence[0], 1.0 - curve.reliability, 1e-12)
    inside = curve.reliability > 0
    assert close(one.std_error_delta[0][inside], curve.std_error[inside], 1e-6)
    if not s.entry.any():
        # With late entry each life's own influence is no longer that of its redistribution.
        assert close(one.std_error_jackknife[0][inside], curve.std_error[inside], 1e-6)


@few
@given(fleets(interval=True))
def test_turnbull_is_a_maximum(s: Spells) -> None:
    """No shift of mass between two of its intervals raises the likelihood, told anew from mass."""
    curve = estimate_turnbull(s)
    assert curve.breach < 1e-9

    def reliability(t: np.ndarray, mass: np.ndarray) -> np.ndarray:
        return 1.0 - (curve.high_h[None] <= t[:, None]) @ mass

    def total(mass: np.ndarray) -> float:
        exact = s.failed & ~s.interval_known
        with np.errstate(divide="ignore", invalid="ignore"):
            seen = np.log(reliability(s.entry, mass))
            run = np.log(reliability(s.exit_upper, mass)[~s.failed]) - seen[~s.failed]
            at = (curve.high_h[None] == s.exit_upper[exact][:, None]) & (
                curve.low_h == curve.high_h
            )[None]
            points = np.log(at @ mass) - seen[exact]
            gap = s.interval_known
            between = (
                np.log(reliability(s.exit_lower[gap], mass) - reliability(s.exit_upper[gap], mass))
                - seen[gap]
            )
        return float(run.sum() + points.sum() + between.sum())

    best = total(curve.mass)
    assert best == pytest.approx(curve.log_likelihood, rel=1e-9)
    rng = np.random.default_rng(0)
    m = len(curve.mass)
    for _ in range(20):
        i, j = rng.integers(m), rng.integers(m)
        move = 1e-4 * curve.mass[i]
        other = curve.mass.copy()
        other[i] -= move
        other[j] += move
        assert total(other) <= best + 1e-10


@few
@given(fleets())
def test_delayed_entry_against_a_directly_maximised_likelihood(s: Spells) -> None:
    """The likelihood written out row by row and handed to a general optimiser."""
    from scipy.optimize import minimize

    def minus(x: np.ndarray) -> float:
        shape, scale = np.exp(np.clip(x, -8, 14))

        def h(t: np.ndarray) -> np.ndarray:
            return (t / scale) ** shape

        with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
            exact = np.log(shape / s.exit_upper) + np.log(h(s.exit_upper)) - h(s.exit_upper)
            between = -h(s.exit_lower) + np.log(-np.expm1(h(s.exit_lower) - h(s.exit_upper)))
            rows = np.where(s.failed, np.where(s.interval_known, between, exact), -h(s.exit_upper))
            out = -float((rows + h(s.entry)).sum())
        return out if np.isfinite(out) else 1e300

    fit = fit_weibull(s)
    found = minimize(
        minus, [0.5, 7.0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12,
                                                          "maxiter": 2000}
    )  # fmt: skip
    # The optimiser stops within its own tolerance, so ours may only be as high or higher.
    assert fit.log_likelihood >= -found.fun - 1e-9 * abs(found.fun)
    assert fit.log_likelihood == pytest.approx(-found.fun, rel=1e-6)
    assert close(np.log(fit.estimate), found.x, 1e-4)
    assert fit.log_likelihood == pytest.approx(
        weibull_log_likelihood(
            fit.shape, fit.scale_h, s.entry, s.exit_lower, s.exit_upper, s.failed, s.weight
        ),
        rel=1e-12,
    )


@few
@given(fleets(interval=False), st.floats(-12.0, 12.0))
def test_any_start(s: Spells, log_start: float) -> None:
    a = solve_weibull(s.entry, s.exit_upper, s.failed)
    b = solve_weibull(s.entry, s.exit_upper, s.failed, start_shape=float(np.exp(log_start)))
    assert b.converged
    assert a.shape == pytest.approx(b.shape, rel=1e-9)


LIFELINES = st.sampled_from(["weibull", "exponential", "lognormal", "loglogistic"])


@settings(max_examples=2, deadline=None)
@given(fleets(), LIFELINES)
def test_against_lifelines(s: Spells, family: str) -> None:
    check_against_lifelines(s, family)


@pytest.mark.slow
@settings(max_examples=150, deadline=None)
@given(fleets(), LIFELINES)
def test_against_lifelines_at_length(s: Spells, family: str) -> None:
    check_against_lifelines(s, family)


def check_against_lifelines(s: Spells, family: str) -> None:
    """Ours is the library's own maximum, reached from a start 10 % off; likewise product limit."""
    import lifelines

    from fleetstats.survival import second_opinions

    fit = fit_family(s, family)
    opinion = second_opinions(fit)[0]
    assert opinion.answered, opinion
    assert opinion.log_likelihood_difference == pytest.approx(0.0, abs=1e-4)
    assert opinion.log_likelihood_difference < 1e-7
    assert np.max(np.abs(opinion.relative_difference)) < 5e-3, opinion
    if not s.interval_known.any():
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            km = lifelines.KaplanMeierFitter().fit(s.exit_upper, s.failed, entry=s.entry)
        ours = estimate_product_limit(s, least_at_risk=1)
        theirs = km.survival_function_at_times(ours.hours).to_numpy()
        assert close(ours.reliability, theirs, 1e-9)


@settings(max_examples=4, deadline=None)
@given(fleets(interval=False, late=False), st.sampled_from(sorted(FAMILIES)))
def test_against_reliability(s: Spells, family: str) -> None:
    check_against_reliability(s, family)


@pytest.mark.slow
@settings(max_examples=150, deadline=None)
@given(fleets(interval=False, late=False), st.sampled_from(sorted(FAMILIES)))
def test_against_reliability_at_length(s: Spells, family: str) -> None:
    check_against_reliability(s, family)


def check_against_reliability(s: Spells, family: str) -> None:
    """`reliability` stops short at times (1.2 % of fleets in trials, and its exponential more
    often), so its likelihood may be lower than ours but never higher, and its curves agree where
    the likelihoods do."""
    from fleetstats.survival import second_opinions

    try:
        fit = fit_family(s, family)
    except NoMaximum:
        return
    opinion = second_opinions(fit)[1]
    if not opinion.answered:
        assert opinion.notes
        return
    # Its likelihood is summed in another order.
    assert opinion.log_likelihood_difference < 1e-6
    if opinion.log_likelihood_difference > -1e-7:
        assert abs(opinion.b10_relative_difference) < 5e-3, opinion
