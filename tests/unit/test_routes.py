"""Three routes: their table, and what agreement or parting means."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.routes.compute import band_routes
from fleetstats.spells import Spells
from fleetstats.study.settings import EvidenceKeys
from fleetstats.survival import fit_weibull
from fleetstats.survival.second_opinion import second_opinions

RNG = np.random.default_rng(4)
STOP = RNG.uniform(300, 1500, 200)
LIFE = 1800 * RNG.exponential(size=200) ** 0.4
LIVES = Spells.of(np.zeros(200), np.minimum(LIFE, STOP), LIFE <= STOP)
KEYS = EvidenceKeys(resamples=800)


def test_routes_that_agree() -> None:
    fit = fit_weibull(LIVES)
    out = band_routes(LIVES, fit, Quantity.life(0.1), level=0.9, settings=KEYS, seed=3)
    assert [f.name.split()[0] for f in out.fits] == ["fleetstats", "lifelines", "reliability"]
    assert out.fits_agree is True
    assert out.bands_agree is True
    assert "find the same shape" in out.sentences[0]
    assert "does not hang on the method" in out.sentences[1]
    assert all(b.interval is not None for b in out.bands)


def test_a_library_that_stopped_short_is_named() -> None:
    fit = fit_weibull(LIVES)
    opinions = second_opinions(fit)
    bad = replace(
        opinions[0],
        agrees=False,
        log_likelihood=fit.log_likelihood - 0.5,
        estimate=1.02 * opinions[0].estimate,
    )
    out = band_routes(
        LIVES, fit, Quantity.life(0.1), level=0.9, settings=KEYS, opinions=(bad, *opinions[1:])
    )
    assert out.fits_agree is False
    assert out.sentences[0].startswith(bad.library)
    assert "had not reached the maximum" in out.sentences[0]
    ahead = replace(bad, log_likelihood=fit.log_likelihood + 0.5)
    out = band_routes(LIVES, fit, Quantity.life(0.1), level=0.9, settings=KEYS, opinions=(ahead,))
    assert "asked something else" in out.sentences[0]


def test_few_failures_part_the_routes_and_none_leave_one() -> None:
    ages = np.linspace(50, 1450, 100)
    flags = np.zeros(100)
    flags[[40, 70, 95]] = 1
    few = Spells.of(np.zeros(100), ages, flags)
    out = band_routes(
        few, fit_weibull(few), Quantity.life(0.1), level=0.9, settings=KEYS, opinions=()
    )
    assert out.fits_agree is None
    assert out.bands_agree is False
    assert "resampling repeats the same few" in out.sentences[1]
    none = Spells.of(np.zeros(100), ages, np.zeros(100))
    out = band_routes(none, None, Quantity.reliability(1200.0), level=0.9)
    assert out.bands_agree is None
    assert [b.interval is None for b in out.bands] == [False, True, True, True]
    assert "without a fit" in out.sentences[1]
