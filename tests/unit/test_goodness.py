"""Failures seen and expected by age band: the sums, the fairness of the test, its power."""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.spells import Spells
from fleetstats.survival import fit_family, fit_weibull
from fleetstats.survival.families.goodness import check_goodness


def fleet(seed: int, n: int, shape: float) -> Spells:
    rng = np.random.default_rng(seed)
    entry = np.where(rng.random(n) < 0.5, 1000 * rng.random(n), 0.0)
    life = 1500 * (rng.exponential(size=n) + (entry / 1500) ** shape) ** (1 / shape)
    stop = entry + rng.uniform(200, 1800, n)
    return Spells.of(entry, np.minimum(life, stop), life <= stop)


def test_expected_failures_add_up() -> None:
    """At the maximum the fitted hazard that all lives went through equals the failures seen."""
    s = fleet(1, 80, 2.0)
    check = check_goodness(fit_weibull(s))
    assert check.n_failed.sum() == s.n_failed
    assert check.n_expected.sum() == pytest.approx(s.n_failed, rel=1e-9)
    assert np.all(np.diff(check.high_h) > 0)
    assert check.low_h[0] == 0
    assert check.high_h[-1] == s.oldest_h


def test_expected_failures_of_two_lives() -> None:
    """Exponential, one failure in 1,000 h of exposure: each band expects its hours / 1,000."""
    s = Spells.of([0, 100], [600, 500], [1, 0])
    check = check_goodness(fit_family(s, "exponential"))
    hours = [
        np.clip(600, a, b) - a + np.clip(500, a, b) - np.clip(100, a, b)
        for a, b in zip(check.low_h, check.high_h, strict=True)
    ]
    assert check.n_expected == pytest.approx(np.array(hours) / 1000, rel=1e-9)
    assert check.p_value is None
    assert "With 1 failure no test" in check.sentence


def test_a_wrong_family_is_found_out() -> None:
    s = fleet(4, 300, 3.0)
    right, wrong = check_goodness(fit_weibull(s)), check_goodness(fit_family(s, "exponential"))
    assert right.p_value > 0.05
    assert "does not show" in right.sentence
    assert wrong.p_value < 1e-4
    assert "does not follow" in wrong.sentence
    assert "less than 0.01 %" in wrong.sentence


def test_where_checks_are_vague_nothing_is_tested() -> None:
    s = fleet(4, 300, 3.0)
    lower = np.where(s.failed, s.entry, s.exit_upper)
    check = check_goodness(fit_weibull(s.replace(exit_lower=lower)))
    assert check.p_value is None
    assert "not tested" in check.sentence


@pytest.mark.parametrize(
    ("n", "fleets"),
    [(40, 120), pytest.param(40, 2000, marks=pytest.mark.slow),
     pytest.param(300, 2000, marks=pytest.mark.slow)],
)  # fmt: skip
def test_chances_are_fair(n: int, fleets: int) -> None:
    """Of fleets from the fitted family 5 % fall below 0.05, within three binomial errors and a
    point for the few failures of small fleets."""
    got = [check_goodness(fit_weibull(fleet(i, n, 2.0))).p_value for i in range(fleets)]
    p = np.array([x for x in got if x is not None])
    assert len(p) > 0.9 * fleets
    for level in (0.05, 0.2, 0.5):
        error = np.sqrt(level * (1 - level) / len(p))
        assert abs(float((p < level).mean()) - level) < 3 * error + 0.01
