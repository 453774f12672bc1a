"""Edges of the mixture over shape are roots to the last digits, not merely near them."""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.bands.bayes.mixture import MIDDLE, OPTIMISTIC, PESSIMISTIC, ShapeMixture
from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.bands.quantity import Quantity
from fleetstats.spells import Spells


def fleet(n_failed: int, gap: float = 0.0) -> Spells:
    stop = np.linspace(100.0, 1200.0, 60)
    failed = np.zeros(60)
    failed[np.linspace(5, 55, n_failed).astype(int)] = 1
    return Spells.of(np.zeros(60), stop, failed, exit_lower=stop - gap * failed)


@pytest.mark.parametrize("spells", [fleet(0), fleet(1), fleet(20), fleet(20, 40.0)],
                         ids=["none", "one", "many", "between-checks"])  # fmt: skip
def test_the_probability_below_an_edge_is_the_one_asked_for(spells: Spells) -> None:
    # a hazard and a life lose no digits on their way from score to value and back
    mixture = ShapeMixture.of_spells(spells, ShapePrior())
    edges = [(0.05, PESSIMISTIC), (0.5, MIDDLE), (0.95, PESSIMISTIC)]
    if spells.n_failed:
        edges += [(0.05, OPTIMISTIC), (0.95, OPTIMISTIC)]
    ages = np.linspace(1.0, 2500.0, 97)
    for p, added in edges:
        curve = mixture.bound_curve("hazard", ages, 0.0, p, added=added)
        found = [
            mixture.below(Quantity.hazard(float(t)), np.array([edge]), added=added)[0]
            for t, edge in zip(ages, curve, strict=True)
        ]
        np.testing.assert_allclose(found, p, rtol=0.0, atol=1e-12)
        for share in (0.01, 0.1, 0.632, 0.95):
            life = Quantity.life(share)
            edge = mixture.bound(life, p, added=added)
            below = mixture.below(life, edge, added=added)
            np.testing.assert_allclose(below, p, rtol=0.0, atol=1e-12)
