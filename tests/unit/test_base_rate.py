"""The base-rate check, against the Poisson law and the reference fleet's figures."""

import math

import pytest
from advice_fleets import made_fleet, made_settings, reference_fleet

from fleetstats.advice.base_rate import check_base_rate

RATE = {
    "per_10000_h": 1.2,
    "source": "a public study",
    "definition": "engine failure or malfunction",
}


def test_reference_fleet_should_have_had_23():
    # 195,000 h at 1.2 per 10,000 h: 23.4 expected, P(0) = exp(-23.4) = 7e-11
    check = check_base_rate(reference_fleet(), made_settings(base_rate=RATE))
    assert check.expected == pytest.approx(23.4, rel=1e-9)
    assert check.chance_so_few == pytest.approx(math.exp(-23.4), rel=1e-9)
    assert check.state == "far-fewer"
    assert "Which is it" in check.sentence
    assert RATE["definition"] in check.sentence
    # if both count the same, at most m / expected are reported
    assert check.share_high == pytest.approx(-math.log(0.05) / 23.4, rel=1e-9)


def test_in_keeping_and_far_more():
    fleet = made_fleet()
    rate = 10_000 * fleet.n_failed / fleet.exposure_h
    same = check_base_rate(fleet, made_settings(base_rate={**RATE, "per_10000_h": rate}))
    assert same.state == "in-keeping"
    more = check_base_rate(fleet, made_settings(base_rate={**RATE, "per_10000_h": rate / 3}))
    assert more.state == "far-more"
    assert more.chance_so_many < 0.01


def test_no_rate_no_check():
    assert check_base_rate(reference_fleet(), made_settings()) is None
