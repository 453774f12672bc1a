"""Competing causes: shock absorbers with two modes of failure (source in the case)."""

from __future__ import annotations

import numpy as np
import pytest
from cases_support import columns, expected, tolerance

from fleetstats.bands.likelihood.profile import band_quantity
from fleetstats.bands.quantity import Quantity
from fleetstats.spells import Spells
from fleetstats.survival.counting.incidence import estimate_incidence
from fleetstats.survival.groups.causes import (
    cause_of,
    count_as,
    fit_causes,
    parametric_incidence,
    reliability_of_all,
)
from fleetstats.survival.weibull.fit_weibull import fit_weibull


@pytest.fixture
def absorbers() -> Spells:
    t = columns("more/shock_absorber.csv")
    km = np.array([float(x) for x in t["km"]])
    mode = np.array(t["mode"])
    return Spells.of(np.zeros(len(km)), km, mode != "", cause=mode)


def test_each_mode_and_both(absorbers: Spells) -> None:
    want, rel = expected("shock-modes-weibull"), tolerance("shock-modes-weibull")
    fits = {c.cause: c.fit for c in fit_causes(absorbers)}
    assert set(fits) == {"mode1", "mode2"}
    for mode, fit in fits.items():
        assert fit.shape == pytest.approx(want[f"{mode}_shape"], rel=rel)
        assert fit.scale_h == pytest.approx(want[f"{mode}_scale"], rel=rel)
        assert fit.log_likelihood == pytest.approx(want[f"{mode}_loglik"], rel=rel)
        assert fit.std_error("shape") == pytest.approx(want[f"{mode}_se_shape"], rel=rel)
        assert fit.std_error("scale_h") == pytest.approx(want[f"{mode}_se_scale"], rel=rel)
        assert fit.quantile(0.10) == pytest.approx(want[f"{mode}_B10"], rel=rel)
        for level in (90, 95):
            band = band_quantity(fit, Quantity.shape(), level=level / 100)
            assert band.low == pytest.approx(want[f"{mode}_shape_profile_lower{level}"], rel=rel)
            assert band.high == pytest.approx(want[f"{mode}_shape_profile_upper{level}"], rel=rel)
    both = fit_weibull(absorbers)
    assert both.shape == pytest.approx(want["any_shape"], rel=rel)
    assert both.scale_h == pytest.approx(want["any_scale"], rel=rel)


def test_parametric_incidence(absorbers: Spells) -> None:
    want, rel = expected("shock-modes-weibull"), tolerance("shock-modes-weibull")
    fits = fit_causes(absorbers)
    for km in (10000, 20000, 28000):
        assert reliability_of_all(fits, km) == pytest.approx(want[f"R_both({km})"], rel=rel)
        total = float(reliability_of_all(fits, km))
        for mode in ("mode1", "mode2"):
            got = parametric_incidence(fits, mode, km)[0]
            assert got == pytest.approx(want[f"CIF_{mode}_parametric({km})"], rel=rel)
            total += got
        assert total == pytest.approx(1.0, rel=1e-9)  # what each ended and what is left add to one


def test_counted_incidence(absorbers: Spells) -> None:
    want, rel = expected("shock-modes-aj"), tolerance("shock-modes-aj")
    table = estimate_incidence(absorbers, cause_of(absorbers))
    for key, value in want.items():
        mode, rest = key.split("_", 2)[1].split("(", 1)
        km = float(rest.rstrip(")"))
        got = table.at(mode, [km])[0]
        if "jackknife" in key:
            got = table.std_error_at(mode, [km], method="jackknife")[0]
        elif "delta" in key:
            got = table.std_error_at(mode, [km])[0]
        assert got == pytest.approx(value, rel=rel), key


def test_one_mode_in_question_censors_at_the_other(absorbers: Spells) -> None:
    one = count_as(absorbers, cause_of(absorbers) == "mode1")
    want = expected("shock-modes-weibull")
    assert one.n_failed == (cause_of(absorbers) == "mode1").sum() == 7
    assert fit_weibull(one).shape == pytest.approx(want["mode1_shape"], rel=1e-6)
