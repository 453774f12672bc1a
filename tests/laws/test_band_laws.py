"""What must hold of bands for every fleet."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from known_shape import life_low_h, reliability_low

from fleetstats.bands import Quantity, band, band_curve
from fleetstats.bands.choose import Asked
from fleetstats.core.errors import NoMaximum
from fleetstats.spells import Spells
from fleetstats.study.settings import EvidenceKeys
from fleetstats.survival import Fit, fit_weibull

ASKED = (
    Quantity.life(0.1),
    Quantity.reliability(900.0),
    Quantity.conditional(800.0, 50.0),
    Quantity.hazard(700.0),
    Quantity.shape(),
    Quantity.scale(),
)


def fleet(seed: int, n: int = 40, scale: float = 2500.0, *, gaps: bool = False) -> Spells:
    rng = np.random.default_rng(seed)
    stop = rng.uniform(100.0, 1500.0, n)
    entry = np.where(rng.random(n) < 0.4, stop * rng.uniform(0, 0.7, n), 0.0)
    life = scale * ((entry / scale) ** 2.2 + rng.exponential(size=n)) ** (1 / 2.2)
    failed = life <= stop
    end = np.where(failed, life, stop)
    if not gaps:
        return Spells.of(entry, end, failed)
    late = np.where(failed, np.ceil(end / 50) * 50, end)
    early = np.where(failed, np.maximum(entry, np.floor(end / 50) * 50), late)
    return Spells.of(entry, late, failed, exit_lower=early)


def fitted(lives: Spells) -> Fit | None:
    try:
        return fit_weibull(lives)
    except NoMaximum:
        return None


def edges(lives: Spells, method: str = "auto", level: float = 0.9) -> list[float | None]:
    asked = Asked.of(lives, fitted(lives), level=level, method=method)
    out: list[float | None] = []
    for q in ASKED:
        one = asked.interval(q)
        out += [one.low, one.high]
    return out


def close(a: list[float | None], b: list[float | None], rel: float = 1e-6) -> None:
    assert [v is None for v in a] == [v is None for v in b]
    assert [v for v in a if v is not None] == pytest.approx(
        [v for v in b if v is not None], rel=rel
    )


@pytest.mark.parametrize("method", ["auto", "profile"])
@pytest.mark.parametrize("gaps", [False, True])
def test_hours_times_k_give_hours_times_k(method: str, gaps: bool) -> None:
    lives, k = fleet(3, gaps=gaps), 7.0
    longer = Spells.of(
        k * lives.entry, k * lives.exit_upper, lives.failed, exit_lower=k * lives.exit_lower
    )
    for q, r in (
        (Quantity.life(0.1), Quantity.life(0.1)),
        (Quantity.conditional(800.0, 50.0), Quantity.conditional(k * 800.0, k * 50.0)),
        (Quantity.shape(), Quantity.shape()),
    ):
        one = band(lives, fitted(lives), q, level=0.9, method=method)
        two = band(longer, fitted(longer), r, level=0.9, method=method)
        factor = k if q.kind == "life" else 1.0
        assert two.low == pytest.approx(factor * (one.low or 0), rel=1e-6)
        assert two.high == pytest.approx(factor * (one.high or 0), rel=1e-6)


@pytest.mark.parametrize("method", ["auto", "profile"])
def test_order_names_and_splits_change_nothing(method: str) -> None:
    lives = fleet(5)
    close(edges(lives, method), edges(lives.select(np.arange(len(lives))[::-1]), method))
    close(edges(lives, method), edges(lives.split_at(600.0), method))
    double = lives.join(lives.replace(unit=[f"v{i}" for i in range(len(lives))]))
    close(edges(double, method), edges(double.collapse(), method))


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    shape=st.floats(0.3, 8.0),
    age=st.floats(1.0, 3000.0),
    confidence=st.floats(0.5, 0.99),
)
def test_a_running_engine_never_lowers_the_bound_given_shape(
    seed: int, shape: float, age: float, confidence: float
) -> None:
    lives = fleet(seed)
    more = lives.join(Spells.of([0.0], [age], [0], unit=["new"]))
    before = life_low_h(lives, shape, 0.1, confidence=confidence)
    after = life_low_h(more, shape, 0.1, confidence=confidence)
    assert after >= before * (1 - 1e-12)
    fewer = life_low_h(lives.select(~lives.failed), shape, 0.1, confidence=confidence)
    if lives.n_failed:
        assert before < fewer * 1.2


@settings(max_examples=6, deadline=None)
@given(seed=st.integers(0, 10_000), scale=st.sampled_from([1500.0, 3000.0, 9000.0]))
def test_a_stricter_level_is_wider(seed: int, scale: float) -> None:
    lives = fleet(seed, scale=scale)
    for method in ("auto", "profile"):
        narrow, wide = edges(lives, method, 0.8), edges(lives, method, 0.95)
        for i, (a, b) in enumerate(zip(narrow, wide, strict=True)):
            if b is not None and a is not None:
                assert (b <= a * (1 + 1e-9)) if i % 2 == 0 else (b >= a * (1 - 1e-9))
            # an edge that a looser level cannot set, a stricter one cannot either
            assert a is not None or b is None


@settings(max_examples=9, deadline=None)
@given(seed=st.integers(0, 10_000), scale=st.sampled_from([1200.0, 4000.0, 30000.0]))
def test_bands_are_proper_whatever_the_fleet(seed: int, scale: float) -> None:
    lives = fleet(seed, scale=scale)
    hours = np.linspace(0.0, 2000.0, 21)
    for kind in ("reliability", "conditional", "hazard"):
        curve = band_curve(lives, fitted(lives), kind, hours, level=0.9, width_h=50.0)
        low, high = curve.low, curve.high
        both = ~np.isnan(low) & ~np.isnan(high)
        assert np.all(low[both] <= high[both])
        if kind != "hazard":
            for edge in (low, high):
                seen = edge[~np.isnan(edge)]
                assert np.all((seen >= 0.0) & (seen <= 1.0))
        if kind == "reliability":
            assert np.all(np.diff(low) <= 1e-9)
            assert lives.n_failed == 0 or np.all(np.diff(high[~np.isnan(high)]) <= 1e-9)
    if lives.n_failed == 0:
        one = band(lives, None, Quantity.life(0.1), level=0.9)
        assert one.low is not None
        assert one.high is None
        assert one.estimate is None
        assert one.note_high


def test_a_failure_lowers_the_claim_and_a_stated_prior_is_obeyed() -> None:
    ages = np.linspace(50, 1450, 260)
    none = Spells.of(np.zeros(260), ages, np.zeros(260))
    failed = np.zeros(260)
    failed[180] = 1
    one = Spells.of(np.zeros(260), ages, failed)
    what = Quantity.reliability(1200.0)
    before = band(none, None, what, level=0.9)
    after = band(one, fitted(one), what, level=0.9)
    assert after.low is not None
    assert before.low is not None
    assert after.low < before.low
    # a prior so narrow that the shape is known gives the closed form back, but for the quarter of a
    # failure that a default made of many shapes adds
    sure = EvidenceKeys(prior_shape_median=2.0, prior_shape_log_sd=0.001, prior_source="bench")
    known = band(none, None, what, level=0.9, settings=sure)
    closed = reliability_low(none, 2.0, 1200.0)
    assert known.low == pytest.approx(closed, abs=0.005)
    assert known.low is not None
    assert known.low < closed
