"""Exact comparison of two rates, and false discoveries held down: against published examples."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetstats.core.errors import ArgumentError
from fleetstats.survival.groups.rate_ratio import compare_rates, false_discovery


def test_the_worked_example_of_two_rates() -> None:
    """11 in 800 against 21 in 3,011 person-years; R's help page of poisson.test, from memory:
    ratio 1.971488, 95 % limits 0.8584264 to 4.2772659.
    """
    got = compare_rates(11, 800, 6 + 8 + 7, 1083 + 1050 + 878, level=0.95)
    assert got.ratio == pytest.approx(1.971488, abs=1e-6)
    assert got.low == pytest.approx(0.8584264, abs=1e-6)
    assert got.high == pytest.approx(4.2772659, abs=1e-6)


@settings(deadline=None)
@given(
    k=st.integers(0, 40),
    k0=st.integers(0, 40),
    t=st.floats(0.01, 1e6),
    t0=st.floats(0.01, 1e6),
)
def test_the_chance_is_the_binomial_one(k: int, k0: int, t: float, t0: float) -> None:
    """scipy's binomial test, one-sided, given the sum of both counts."""
    from scipy.stats import binomtest

    got = compare_rates(k, t, k0, t0)
    if k + k0 == 0:
        assert got.p_greater == 1.0
        return
    want = binomtest(k, k + k0, t / (t + t0), alternative="greater").pvalue
    assert got.p_greater == pytest.approx(want, rel=1e-8, abs=1e-300)


@settings(deadline=None)
@given(k=st.integers(0, 60), k0=st.integers(0, 60), t=st.floats(0.1, 1e4))
def test_the_lower_limit_passes_1_just_when_the_chance_is_below_its_tail(
    k: int, k0: int, t: float
) -> None:
    got = compare_rates(k, t, k0, 1.0, level=0.90)
    if abs(got.p_greater - 0.05) > 1e-9 and got.low is not None:
        assert (got.low > 1.0) == (got.p_greater < 0.05)


def test_what_has_no_limit_has_none() -> None:
    none = compare_rates(0, 100.0, 0, 100.0)
    assert (none.ratio, none.low, none.high, none.p_greater) == (None, None, None, 1.0)
    only = compare_rates(3, 100.0, 0, 100.0)
    assert only.ratio == np.inf
    assert only.high is None
    assert only.p_greater == pytest.approx(1 / 8)


@pytest.mark.parametrize(
    ("bad", "named"),
    [
        ((1, 0.0, 1, 1.0), "exposure"),
        ((-1, 1.0, 1, 1.0), "count"),
        ((1, 1.0, 1, np.nan), "exposure0"),
    ],
)
def test_impossible_rates_are_refused(bad: tuple[float, float, float, float], named: str) -> None:
    with pytest.raises(ArgumentError, match=rf"^{named} = "):
        compare_rates(*bad)


def test_false_discoveries_of_the_paper() -> None:
    """Benjamini & Hochberg 1995, the fifteen comparisons of the thrombolysis trial, from memory:
    at a share of 0.05 the first four are called, where Bonferroni's rule calls three.
    """
    p = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262,
         0.5719, 0.6528, 0.7590, 1.0000]  # fmt: skip
    q = false_discovery(p)
    assert int((q <= 0.05).sum()) == 4
    assert q[3] == pytest.approx(0.0095 * 15 / 4)


@settings(deadline=None)
@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=40))
def test_false_discoveries_as_scipy_has_them(p: list[float]) -> None:
    from scipy.stats import false_discovery_control

    np.testing.assert_allclose(false_discovery(p), false_discovery_control(p), rtol=1e-12)


def test_false_discovery_of_nothing_is_nothing() -> None:
    assert len(false_discovery([])) == 0
    with pytest.raises(ArgumentError, match=r"p\[1\] = 1.2"):
        false_discovery([0.1, 1.2])
