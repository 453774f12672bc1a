"""A climb begun from the maximum of some of the lives ends at that of all, wherever it begins."""

from __future__ import annotations

import numpy as np
import pytest
from checked_fleet import checked_spells

from fleetstats.survival.regression import proportional
from fleetstats.survival.regression.covariates import build_covariates
from fleetstats.survival.regression.proportional import fit_proportional


def test_a_start_from_some_lives_ends_at_the_maximum_of_all(monkeypatch):
    lives = checked_spells(700, 9)
    rng = np.random.default_rng(2)
    x = {"a": rng.normal(size=len(lives)), "b": (rng.random(len(lives)) < 0.3).astype(float)}
    table = build_covariates(lives, x)
    asked = []
    library = proportional._start

    def start(spells, standard):
        asked.append(len(spells))
        return library(spells, standard)

    monkeypatch.setattr(proportional, "_start", start)
    of_all = fit_proportional(lives, table)
    monkeypatch.setattr(proportional, "MOST_TO_START", 90)
    of_some = fit_proportional(lives, table)
    assert asked[0] == len(lives)
    assert asked[1] < 110
    for one, other in zip(of_some.ratios, of_all.ratios, strict=True):
        assert one.coef == pytest.approx(other.coef, abs=1e-9)
        assert one.std_error == pytest.approx(other.std_error, rel=1e-9)
