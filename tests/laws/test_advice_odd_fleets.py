"""Odd fleets: every question gets an answer that JSON can hold, or a plain refusal, never a crash.

Warnings are errors in the tests, so an overflow or a division by zero on the way fails too.
"""

import json

import numpy as np
import pytest
from advice_fleets import made_settings

from fleetstats.advice.advise import advise_hours
from fleetstats.chapters.cautions.compute import collect_cautions
from fleetstats.chapters.claim.compute import advise_claim
from fleetstats.chapters.hidden.compute import estimate_hidden
from fleetstats.chapters.plan.compute import plan_evidence
from fleetstats.spells import Event, Spells
from fleetstats.survival.weibull.fit_weibull import try_fit

RNG = np.random.default_rng(0)
FLEETS = {
    "one running": Spells.of(0, [500.0], [0]),
    "one failed": Spells.of(0, [500.0], [1]),
    "all failed at one age": Spells.of(0, np.full(20, 500.0), np.ones(20)),
    "one failure at the oldest age": Spells.of(0, [100.0, 200, 300], [0, 0, 1]),
    "ages near 0": Spells.of(0, RNG.uniform(1e-3, 1e-2, 60), RNG.random(60) < 0.2),
    "ages near 1e7": Spells.of(0, RNG.uniform(1e5, 1e7, 60), RNG.random(60) < 0.2),
    "all joined late": Spells.of(1000.0, 1000 + RNG.uniform(1, 50, 30), RNG.random(30) < 0.3),
    "weights of all sizes": Spells.of(
        0, RNG.uniform(50, 1500, 50), RNG.random(50) < 0.2, weight=10 ** RNG.uniform(-6, 6, 50)
    ),
    "shape 0.2": Spells.of(0, 1000 * RNG.weibull(0.2, 80) + 1e-6, np.ones(80)),
    "shape 30": Spells.of(0, np.minimum(1000 * RNG.weibull(30, 80), 980), RNG.random(80) < 0.5),
    "never seen good": Spells.of(
        0, [300.0, 400, 500, 600] * 5, [1, 0, 1, 1] * 5, exit_lower=[0.0, 400, 0, 550] * 5
    ),
    "every ending": Spells.of(
        0, RNG.uniform(100, 1500, 60), [Event(int(k)) for k in RNG.integers(0, 4, 60)]
    ),
}


@pytest.mark.parametrize("name", FLEETS)
def test_odd_fleets_get_an_answer(name):
    fleet = FLEETS[name]
    fit = try_fit(fleet)
    settings = made_settings(
        targets={"risk_per_check": 0.005}, cost={"ratio": 5.0}, evidence={"resamples": 200},
        base_rate={"per_10000_h": 1.2}, fleet={"hours_per_year": 100.0},
    )  # fmt: skip
    advice = advise_hours(fleet, fit, settings)
    answers = [
        advice,
        advise_claim(fleet, settings, fit=fit),
        plan_evidence(fleet, settings, fit=fit),
        estimate_hidden(fleet, fit, settings),
        *collect_cautions(fleet, fit, settings, advice),
    ]
    for value in answers:
        text = json.dumps(value.to_dict(), allow_nan=False)
        assert "nan" not in text.lower()
    hours = [e.hours for e in (advice.overhaul_band.plan_from, advice.overhaul_band.not_beyond)]
    assert all(h is None or 0 < h <= fleet.oldest_h for h in hours)


def test_a_claim_far_below_the_ages_is_answered_at_once():
    # each engine is worth some 1e15 lives to 1,200 h at shape 4: counts are found by halving
    claim = advise_claim(FLEETS["ages near 1e7"], made_settings(), fit=None)
    assert claim.rows[-1].hidden_to_break > 1e9
