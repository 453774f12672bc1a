"""The one door to bands: which method, why, and what it says where it cannot answer."""

from __future__ import annotations

import numpy as np
import pytest
from known_shape import reliability_low

from fleetstats.bands import Quantity, band, band_curve, choose_method
from fleetstats.bands.choose import Asked
from fleetstats.bands.method import METHODS
from fleetstats.core.errors import ArgumentError, BandError
from fleetstats.spells import Spells
from fleetstats.study.settings import EvidenceKeys
from fleetstats.survival import fit_weibull
from fleetstats.survival.families.families import fit_family

AGES = np.linspace(50, 1450, 120)


def young(*failed: int) -> Spells:
    flags = np.zeros(120)
    flags[list(failed)] = 1
    return Spells.of(np.zeros(120), AGES, flags)


SOME = young(20, 45, 60, 80, 90, 100, 110)


def test_the_method_follows_what_is_in_hand() -> None:
    none = choose_method(young())
    assert none.method == "shape-mixture"
    assert "Nothing failed" in none.why
    few, many = choose_method(young(50, 90)), choose_method(SOME)
    assert few.method == many.method == "shape-mixture"
    assert "too few to tell the shape" in few.why
    assert "7 failures" in many.why
    for choice in (none, few, many):
        assert choice.measured_coverage is not None
        assert 0.93 < choice.measured_coverage <= 1.0
    assert choose_method(SOME, family="lognormal").method == "profile"
    asked = choose_method(SOME, EvidenceKeys(method="weights"))
    assert asked.method == "weights"
    assert asked.why == "The study asks for this method."
    # the study's coverage is that of the default prior, not of whatever a study states
    stated = choose_method(SOME, EvidenceKeys(prior_source="bench"))
    assert stated.measured_coverage is None


@pytest.mark.parametrize("method", METHODS)
def test_every_method_answers(method: str) -> None:
    keys = EvidenceKeys(resamples=400)
    fit = fit_weibull(SOME)
    one = band(SOME, fit, Quantity.life(0.1), level=0.9, method=method, settings=keys, seed=5)
    assert one.low is not None
    assert one.high is not None
    assert one.low < (one.estimate or 0) < one.high
    assert one.method.startswith(method)
    again = band(SOME, fit, Quantity.life(0.1), level=0.9, method=method, settings=keys, seed=5)
    assert one == again


def test_no_failures_leave_one_edge() -> None:
    lives = young()
    for quantity in (Quantity.life(0.05), Quantity.reliability(1200.0)):
        one = band(lives, None, quantity, level=0.9, method="profile")
        assert one.method == "shape-mixture"
        assert one.low is not None
        assert (one.estimate, one.high) == (None, None)
        assert one.note_high == "no upper limit from these data"
    risk = band(lives, None, Quantity.conditional(1200.0, 50.0), level=0.9)
    assert risk.low is None
    assert risk.high is not None
    shape = band(lives, None, Quantity.shape(), level=0.9)
    assert (shape.low, shape.high) == (None, None)
    # within the ages seen the mixture is about as careful as the worst of shapes 1 to 4
    bound = band(lives, None, Quantity.reliability(1200.0), level=0.9).low or 0.0
    worst = min(reliability_low(lives, b, 1200.0) for b in (1.0, 2.0, 3.0, 4.0))
    assert 1 - bound == pytest.approx(1 - worst, rel=0.1)


def test_few_failures_say_that_the_prior_speaks() -> None:
    one = young(60)
    shape = band(one, None, Quantity.shape(), level=0.9)
    assert "prior" in shape.note_low
    many = band(SOME, fit_weibull(SOME), Quantity.shape(), level=0.9)
    assert many.note_low == ""


def test_a_curve_agrees_with_its_points() -> None:
    for lives in (young(), SOME):
        fit = fit_weibull(lives) if lives.n_failed else None
        for kind in ("reliability", "hazard", "conditional"):
            curve = band_curve(lives, fit, kind, [300.0, 1100.0, 2000.0], level=0.9, width_h=50.0)
            for i, hours in enumerate(curve.hours):
                q = Quantity(kind=kind, hours=float(hours), width_h=50.0)
                one = band(lives, fit, q, level=0.9)
                for name in ("estimate", "low", "high"):
                    value, point = float(getattr(curve, name)[i]), getattr(one, name)
                    if point is None:
                        assert np.isnan(value) or value in (0.0, 1.0)
                    else:
                        assert value == pytest.approx(point, rel=1e-8)
            assert curve.supported_to_h == pytest.approx(lives.horizon_h())


def test_other_families_have_profile_limits() -> None:
    fit = fit_family(SOME, "lognormal")
    one = band(SOME, fit, Quantity.life(0.1), level=0.9)
    assert one.method == "profile"
    assert (one.low or 0) < (one.estimate or 0) < (one.high or 0)
    with pytest.raises(BandError, match="lognormal has no shape"):
        band(SOME, fit, Quantity.shape(), level=0.9)


def test_an_edge_no_data_set_is_none_with_a_note() -> None:
    # two failures among the oldest: the B10 life may lie anywhere above
    lives = young(100, 112)
    fit = fit_weibull(lives)
    one = band(lives, fit, Quantity.life(0.999), level=0.99, method="profile")
    assert one.high is None or one.high < 1000 * lives.oldest_h
    early = young(3, 5)
    fit = fit_weibull(early)
    one = band(early, fit, Quantity.life(0.5), level=0.9, method="profile")
    assert one.high is None
    assert one.note_high == "no upper limit from these data"


def test_refusals_are_plain() -> None:
    with pytest.raises(ArgumentError, match=r"level = 1\.0"):
        band(SOME, None, Quantity.shape(), level=1.0)
    with pytest.raises(ArgumentError, match="method = 'guess'"):
        band(SOME, None, Quantity.shape(), level=0.9, method="guess")
    with pytest.raises(BandError, match="no lives"):
        Asked.of(SOME.select(np.zeros(120, dtype=bool)), None, level=0.9)
    with pytest.raises(ArgumentError, match=r"p = 1\.0"):
        Quantity.life(1.0)
    with pytest.raises(ArgumentError, match=r"hours = -5\.0"):
        Quantity.reliability(-5.0)
    with pytest.raises(ArgumentError, match=r"kind = .age."):
        Quantity(kind="age")


@pytest.mark.parametrize("few", [True, False], ids=["few", "some"])
def test_what_a_mixture_keeps_is_what_it_was_asked(few: bool) -> None:
    """Kept bounds are told apart by all that is asked; an edge not asked moves no other."""
    lives = young() if few else SOME
    fit = fit_weibull(lives) if lives.n_failed else None
    asked = Asked.of(
        lives, fit, level=0.9, method="shape-mixture", settings=EvidenceKeys(), seed=0
    )  # fmt: skip
    assert asked.mixture is not None
    whats = [Quantity.life(0.1), Quantity.life(0.2), *map(Quantity.reliability, (300.0, 900.0))]
    whats.append(Quantity.conditional(300.0, 50.0))
    for what in (*whats, *whats):
        for p in (0.05, 0.5, 0.95):
            for added in (1e-9, 0.5, 1.0):
                fresh = float(asked.mixture.bound(what, p, added=added)[0])
                assert asked.mixture.bound_of_one(what, p, added=added) == fresh
        both, upper = asked.interval(what), asked.interval(what, lower=False)
        assert (upper.estimate, upper.high) == (both.estimate, both.high)
        assert upper.low is None
