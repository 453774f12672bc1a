"""The quoted pessimistic edge on fleets of known truth: does it hold, and is it the rule's own?

Fleets of the study behind the rule (``tests/tools/quoted_study.py``, run on demand for all cells).
"""

from __future__ import annotations

import numpy as np
import pytest
from advice_fleets import made_settings
from quoted_study import Truth, held, life_low_h, lower_edges

from fleetstats.advice.quoted import Quoter
from fleetstats.bands.quantity import Quantity
from fleetstats.survival.weibull.fit_weibull import try_fit

FLEETS = 300
TRUTHS = (
    Truth.of("staggered", 50, 1.0, 2.0),
    Truth.of("old", 60, 1.0, 4.0),
    Truth.of("late", 250, 3.0, 4.0),
    Truth.of("leaders", 250, 2.0, 8.0),
)


@pytest.mark.parametrize("truth", TRUTHS, ids=lambda t: t.name)
def test_the_quoted_edge_holds(truth: Truth) -> None:
    for what, share in held(truth, FLEETS, 17).items():
        # three Monte Carlo standard errors of 95 % are allowed
        assert share > 0.95 - 3 * np.sqrt(0.95 * 0.05 / FLEETS), what


def test_the_study_asks_what_claims_and_plans_ask() -> None:
    settings = made_settings(claim=None)
    for truth in TRUTHS:
        for fleet in truth.draw(5, 3):
            edge = float(lower_edges(fleet, np.array([900.0]))[0])
            lives = Quoter.of(fleet, try_fit(fleet), settings)
            out, life = (
                lives.interval(q) for q in (Quantity.reliability(900.0), Quantity.life(0.1))
            )
            for x, own in ((out, edge), (life, life_low_h(fleet))):
                caps = [y for y in (x.estimate, x.high) if y is not None]
                assert x.low == pytest.approx(min([own, *caps]))
