"""The other families against R's survreg and 40-digit likelihoods (sources in ``data/``)."""

from __future__ import annotations

import pytest
from cases_support import expected, spells

from fleetstats.survival import fit_families, fit_family

NAMES = {
    "weibull": "weibull",
    "lognormal": "lognormal",
    "loglogistic": "loglogistic",
    "exponential": "exponential",
    "gamma": "gamma",
    "smallest-extreme-value": "gumbel_min",
}
PARAMETERS = {"scale_h": "scale", "location_h": "location"}
CASES = [
    ("fan-families", "genfan"),
    ("nist-families", "nist_ten_of_twenty"),
    ("late-fleet-a-families", "late_fleet_a"),
]
TOLERANCE = 1e-6
"""As the cases state; ours agree to about 1e-9."""


ASKED = [
    (name, table, family)
    for name, table in CASES
    for family, prefix in NAMES.items()
    if f"{prefix}_loglik" in expected(name)
]


def test_every_family_is_asked() -> None:
    """The fleet with late entry has no values for the smallest extreme value; all else is there."""
    assert len(ASKED) == 3 * len(NAMES) - 1


@pytest.mark.parametrize(("name", "table", "family"), ASKED)
def test_family(name: str, table: str, family: str) -> None:
    want, prefix = expected(name), NAMES[family]
    fit = fit_family(spells(table), family)
    assert fit.log_likelihood == pytest.approx(want[f"{prefix}_loglik"], rel=TOLERANCE)
    assert fit.aicc == pytest.approx(want[f"{prefix}_AICc"], rel=TOLERANCE)
    for parameter in fit.names:
        theirs = "mean" if family == "exponential" else PARAMETERS.get(parameter, parameter)
        value, error = want[f"{prefix}_{theirs}"], want[f"{prefix}_se_{theirs}"]
        assert fit.parameter(parameter) == pytest.approx(value, rel=TOLERANCE), parameter
        assert fit.std_error(parameter) == pytest.approx(error, rel=TOLERANCE), parameter


def test_bearing_cage_families() -> None:
    """R parametrises log families by location mu and scale sigma of log hours."""
    import math

    want = expected("bearing-cage")
    lives = spells("bearing_cage")
    lognormal = fit_family(lives, "lognormal")
    exponential = fit_family(lives, "exponential")
    loglogistic = fit_family(lives, "loglogistic")
    got = {
        "lognormal_loglik": lognormal.log_likelihood,
        "lognormal_location_mu": lognormal.parameter("mu"),
        "lognormal_scale_sigma": lognormal.parameter("sigma"),
        "exponential_loglik": exponential.log_likelihood,
        "exponential_location_mu": math.log(exponential.scale_h),
        "loglogistic_loglik": loglogistic.log_likelihood,
        "loglogistic_location_mu": math.log(loglogistic.scale_h),
        "loglogistic_scale_sigma": 1.0 / loglogistic.shape,
    }
    for key, value in got.items():
        assert value == pytest.approx(want[key], rel=1e-5), key


def test_order_by_criterion() -> None:
    """The order of families on the fans follows from the AICc values of the case."""
    want = expected("fan-families")
    order = sorted(NAMES, key=lambda f: want[f"{NAMES[f]}_AICc"])
    comparison = fit_families(spells("genfan"))
    assert [f.family for f in comparison.fits] == order
    assert comparison.unlikely == ("smallest-extreme-value",)
    assert "do not tell" in comparison.sentence
