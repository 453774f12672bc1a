"""Ten looks at fleets of known truth: what the error of a word comes to, and what holds it.

A small part of ``tests/tools/looks_study.py``, whose table stands in ``reports/calibration``; three
Monte Carlo standard errors are allowed for chance. 250 engines join over 20 years.
"""

from __future__ import annotations

import numpy as np
import pytest
from advice_fleets import made_settings
from looks_fleets import (
    ACCEPTED,
    CLAIM_H,
    LOOKS,
    Asked,
    LookCell,
    ask_fleets,
    spells_at,
)
from looks_study import asked_one_by_one, by_number_of_looks, rows_of

from fleetstats.advice.quoted import Quoter
from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.bands.looks.any_number import any_number_edges
from fleetstats.bands.quantity import Quantity
from fleetstats.study.look_settings import LookKeys
from fleetstats.survival.weibull.fit_weibull import try_fit

FLEETS = 400
LIMIT = LookCell(growth="joining", shape=2.5, n=250, late=False, ratio=1.0)
HALF = LookCell(growth="joining", shape=2.5, n=250, late=False, ratio=0.5)


@pytest.fixture(scope="module")
def at_limit() -> Asked:
    return ask_fleets(LIMIT, FLEETS, seed=41)


def test_a_plan_holds_the_error_that_looks_alone_do_not(at_limit: Asked) -> None:
    got = {r.rule: r for r in rows_of(LIMIT, at_limit)}
    allowed = 0.055 + 3.0 * np.sqrt(0.05 * 0.95 / FLEETS)
    for rule in ("spending", "spending, no history", "any number"):
        assert got[rule].supported <= allowed
        assert got[rule].contradicted <= allowed
    # each look alone: more than twice what is stated, whichever word
    assert got["each look alone"].supported > 0.08
    assert got["each look alone"].either > 0.2


def test_a_plan_costs_little_of_what_ten_looks_can_show() -> None:
    got = {r.rule: r for r in rows_of(HALF, ask_fleets(HALF, FLEETS, seed=41))}
    error = np.sqrt(0.87 * 0.13 / FLEETS)
    assert got["spending"].supported >= 0.87 - 2.0 * error
    assert got["any number"].supported < got["spending"].supported
    assert got["each look alone"].supported > got["spending"].supported


def test_the_error_of_looks_alone_grows_with_their_number(at_limit: Asked) -> None:
    table = by_number_of_looks(at_limit)
    assert [row[0] for row in table] == list(range(1, LOOKS + 1))
    assert table[0][1] <= 0.05 + 3.0 * np.sqrt(0.05 * 0.95 / FLEETS)
    assert table[-1][1] > table[1][1] > table[0][1]


def test_many_fleets_at_once_are_asked_as_one_is() -> None:
    """Band, any-number evidence and judge agree with what is asked of one fleet alone."""
    cell = LookCell(growth="joining", shape=2.5, n=60, late=True, ratio=0.5)
    together = ask_fleets(cell, 6, seed=3)
    settings = made_settings(claim=None, targets={"reliability": 1.0 - ACCEPTED})
    what = Quantity.reliability(CLAIM_H)
    for i, life in enumerate(cell.lives(6, seed=3)):
        spells = spells_at(cell, life, LOOKS - 1)
        assert spells.n_failed == together.n_failed[i, -1]
        lives = Quoter.of(spells, try_fit(spells), settings)
        low = lives.asked.interval(what).low
        assert low is not None
        assert (low >= 1.0 - ACCEPTED) == (together.supported_p[i, -1] <= 0.05)
        alpha = float(np.exp(-together.any_supported[i, -1]))
        if 0.0 < alpha < 0.9:
            edge = any_number_edges(
                spells, CLAIM_H, 1.0 - ACCEPTED, alpha=alpha, prior=ShapePrior()
            )
            assert edge.low == pytest.approx(1.0 - ACCEPTED, abs=1e-3)


def test_the_judge_itself_holds_a_plan() -> None:
    """The claim at half its limit by the whole rule, with the history that each look has."""
    plan = asked_one_by_one(HALF, 8, LookKeys(planned=LOOKS), seed=5, rule="planned")
    alone = asked_one_by_one(HALF, 8, LookKeys(), seed=5, rule="alone")
    assert plan.contradicted == 0.0
    assert 0.5 < plan.supported <= alone.supported
    assert plan.median_look >= alone.median_look
