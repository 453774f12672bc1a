"""The quoted pessimistic edge on fleets of known truth: does it hold, and is it the rule's own?

Fleets of the study behind the rule (``tests/tools/quoted_study.py``, run on demand for all cells).
"""

from __future__ import annotations

import numpy as np
import pytest
from advice_fleets import made_settings
from quoted_study import CONFIDENCE, Truth, held, lower_edges

from fleetstats.advice.quoted import Quoter, open_shapes, reliability_low
from fleetstats.bands.quantity import Quantity
from fleetstats.bands.shape_free import Settled
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
            edge = float(
                lower_edges(
                    open_shapes(fleet, settings), Settled.of_spells(fleet), np.array([900.0])
                )[0]
            )
            assert reliability_low(fleet, settings, 900.0, CONFIDENCE) == pytest.approx(edge)
            out = Quoter.of(fleet, try_fit(fleet), settings).interval(Quantity.reliability(900.0))
            caps = [x for x in (out.estimate, out.high) if x is not None]
            assert out.low == pytest.approx(min([edge, *caps]))
