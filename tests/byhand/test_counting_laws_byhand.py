"""The Poisson-binomial law by hand, and the laws beside it against scipy."""

from itertools import product

import numpy as np
import pytest

from fleetstats.core.errors import FitError
from fleetstats.survival.counting.count_law import (
    MOST_STEPS,
    CountLaw,
    law_by_recursion,
    negative_binomial_law,
    poisson_binomial,
    poisson_law,
)
from fleetstats.survival.counting.many_chances import ERROR, law_by_transform


def test_three_engines_by_enumeration():
    p = [0.1, 0.25, 0.6]
    want = np.zeros(4)
    for ends in product((0, 1), repeat=3):
        want[sum(ends)] += np.prod([q if e else 1 - q for q, e in zip(p, ends, strict=True)])
    assert poisson_binomial(np.array(p)) == pytest.approx(want, abs=1e-15)


def test_equal_chances_are_binomial_and_rows_are_separate_fleets():
    from scipy.stats import binom

    table = np.vstack([np.full(40, 0.2), np.full(40, 0.03)])
    law = poisson_binomial(table)
    for row, q in zip(law, (0.2, 0.03), strict=True):
        assert row == pytest.approx(binom.pmf(np.arange(len(row)), 40, q), abs=1e-12)
        assert row.sum() == pytest.approx(1.0, abs=1e-12)


def test_order_and_impossible_failures_change_nothing():
    rng = np.random.default_rng(1)
    p = rng.random(30) * 0.3
    law = poisson_binomial(p)
    again = poisson_binomial(np.concatenate([rng.permutation(p), np.zeros(5)]))
    n = min(len(law), len(again))
    assert law[:n] == pytest.approx(again[:n], abs=1e-14)


def test_a_capped_law_keeps_the_rest_in_its_last_count():
    p = np.full(10, 0.5)
    law = poisson_binomial(p, most=3)
    assert len(law) == 4
    assert law[3] == pytest.approx(1 - sum(poisson_binomial(p)[:3]), abs=1e-14)


def test_chances_outside_0_to_1_are_refused():
    with pytest.raises(FitError, match="outside 0 to 1"):
        poisson_binomial(np.array([0.2, 1.2]))


def test_poisson_and_negative_binomial_against_scipy():
    from scipy.stats import nbinom, poisson

    k = np.arange(60)
    assert poisson_law(7.3).probability[:60] == pytest.approx(poisson.pmf(k, 7.3), abs=1e-12)
    assert poisson_law(0.0).probability[0] == 1.0
    law = negative_binomial_law(3.5, 0.7)
    assert law.probability[:60] == pytest.approx(nbinom.pmf(k, 3.5, 1 / 1.7), abs=1e-12)
    assert law.mean == pytest.approx(3.5 * 0.7, rel=1e-9)
    for nothing in ((0.0, 0.7), (3.5, 0.0)):
        assert negative_binomial_law(*nothing).probability.tolist() == [1.0]


def test_reading_a_law():
    law = CountLaw(probability=[0.2, 0.5, 0.2, 0.1])
    assert law.mean == pytest.approx(1.2)
    assert law.none == pytest.approx(0.2)
    assert [law.quantile(q) for q in (0.2, 0.21, 0.7, 0.95)] == [0, 1, 1, 3]
    assert law.interval(0.6) == (0, 2)
    assert law.at_least(2) == pytest.approx(0.3)
    assert (law.alert(0.3), law.alert(0.29), law.alert(0.05)) == (2, 3, 4)
    both = law.plus(CountLaw(probability=[0.5, 0.5]))
    assert both.probability == pytest.approx([0.1, 0.35, 0.35, 0.15, 0.05])


@pytest.mark.parametrize("kind", ["rare", "any", "mixed", "sure", "certain"])
@pytest.mark.parametrize("most", [None, 30])
def test_the_transform_of_a_law_gives_what_engine_by_engine_gives(kind, most):
    rng = np.random.default_rng(4)
    chances = {
        "rare": rng.random((6, 900)) * 0.03,
        "any": rng.random((6, 400)),
        "mixed": np.hstack([rng.random((6, 200)) * 0.02, rng.uniform(0.3, 1, (6, 20))]),
        "sure": 1.0 - rng.random((6, 90)) * 0.01,
        "certain": np.hstack([np.ones((6, 50)), rng.random((6, 60)) * 0.2]),
    }[kind]
    most = chances.shape[1] if most is None else most
    slow = law_by_recursion(chances, most)
    quick = law_by_transform(chances, most, law_by_recursion)
    assert np.abs(quick - slow).max() < ERROR
    assert quick.sum(axis=1) == pytest.approx(1.0, abs=1e-14)


def test_a_rate_that_may_be_low_or_high_leaves_few_engines_to_the_recursion():
    rng = np.random.default_rng(6)
    hazard = np.geomspace(0.002, 8.0, 12)[:, None] * rng.random(3000) * 0.3
    asked = []

    def recursion(table: np.ndarray, most: int) -> np.ndarray:
        asked.append(table.size)
        return law_by_recursion(table, most)

    chances = -np.expm1(-hazard)
    quick = law_by_transform(chances, 3000, recursion)
    assert np.abs(quick - law_by_recursion(chances, 3000)).max() < ERROR
    assert sum(asked) < 0.05 * chances.size


def test_a_large_fleet_is_summed_by_transform_at_once():
    chances = np.random.default_rng(5).random((2, 9000)) * 0.3
    assert 6 * chances.size * chances.sum(axis=1).min() > MOST_STEPS
    law = CountLaw.of_draws(np.vstack([chances] * 6))
    assert law.mean == pytest.approx(chances.sum(axis=1).mean(), rel=1e-9)
    inner = (chances * (1 - chances)).sum(axis=1).mean()
    assert law.sd**2 == pytest.approx(inner + chances.sum(axis=1).var(), rel=1e-6)
