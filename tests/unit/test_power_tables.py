"""Tables of polynomials that are kept give what tables made anew give, to the last bit.

Against numpy's own sum of a Chebyshev series; the fleets are invented.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.polynomial import chebyshev

from fleetstats.bands.likelihood import power
from fleetstats.bands.likelihood.power import PowerSums
from fleetstats.spells import Spells


def fleet(n: int) -> Spells:
    hours = np.linspace(100.0, 1500.0, n)
    return Spells.of(0.0, hours, np.arange(n) % 4 == 0)


@pytest.mark.parametrize("n", [3, 40])
def test_kept_or_not_the_digits_are_the_same(n: int, monkeypatch: pytest.MonkeyPatch) -> None:
    sums = PowerSums.of_spells(fleet(n))
    for points in (1, 7, 200):
        at = np.linspace(-0.5, 2.0, points)
        first, again = sums.log_power(at), sums.log_power(at)
        with monkeypatch.context() as patch:
            patch.setattr(power, "REMEMBERED", 0)
            large = sums.log_power(at)
            patch.setattr(power, "REMEMBERED_FEW", 0)
            anew = sums.log_power(at)
        assert first.tobytes() == again.tobytes() == large.tobytes() == anew.tobytes()
        x = (2 * at - sums.low - sums.high) / (sums.high - sums.low)
        np.testing.assert_allclose(first[0], chebyshev.chebval(x, sums.coef[0]), rtol=1e-9)


def test_other_points_and_other_series_are_not_taken_for_those_kept() -> None:
    few, many = PowerSums.of_spells(fleet(3)), PowerSums.of_spells(fleet(40))
    at = np.linspace(0.0, 1.0, 5)
    for sums in (few, many, few):
        for where in (at, at + 1e-3, at[:4]):
            x = (2 * where - sums.low - sums.high) / (sums.high - sums.low)
            own = chebyshev.chebval(x, sums.coef[0])
            np.testing.assert_allclose(sums.log_power(where)[0], own, rtol=1e-9)


def test_a_series_summed_term_by_term_is_that_of_the_table(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    sums = PowerSums.of_spells(fleet(40))
    at = np.linspace(sums.low - 0.1, sums.high + 0.1, 301)
    table = sums.log_power(at)
    monkeypatch.setattr(power, "MOST_TABLED", 0)
    monkeypatch.setattr(power, "_kept_polynomials", None)
    x = np.clip((2 * at - sums.low - sums.high) / (sums.high - sums.low), -1.0, 1.0)
    for by_terms in (sums.log_power(at), chebyshev.chebval(x, sums.coef[0])[None, :]):
        np.testing.assert_allclose(by_terms, table, rtol=1e-13, atol=1e-13)
