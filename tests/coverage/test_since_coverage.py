"""Bands from what happened after a date hold the truth of that time, in made-up fleets.

Engines join over ten years and are flown 60 to 300 h a year; two years before the end the hazard at
every age becomes four times what it was. The truth after the date is that of a life begun then. A
bound at one-sided 95 % is to hold it in 95 of 100 fleets; binomial limits by scipy.
"""

import os

import numpy as np
import pytest
from advice_fleets import made_settings
from scipy.stats import binom

from fleetstats.advice.quoted import Quoter
from fleetstats.bands.quantity import Quantity
from fleetstats.core.seeds import stream
from fleetstats.spells.days.dated import Dated
from fleetstats.spells.spells import Spells
from fleetstats.survival.weibull.fit_weibull import try_fit

FLEETS = 1000 if os.environ.get("FLEETSTATS_FULL") else 200
SHAPE, SCALE_H, AT_H = 2.5, 2500.0, 800.0
DAY = 730_000.0
CHANGE = DAY + 8 * 365.25
END = DAY + 10 * 365.25


def fleet(number: int, factor: float, n: int = 150) -> Dated:
    """Return a fleet whose hazard is `factor` times as high after the day of the change."""
    rng = stream(11, f"since {factor}", number)
    use = rng.uniform(60.0, 300.0, n) / 365.25
    born = DAY + rng.uniform(0.0, 9.0, n) * 365.25
    reached = use * np.maximum(CHANGE - born, 0.0)  # hours at the change
    draw = rng.exponential(size=n)
    before = (reached / SCALE_H) ** SHAPE
    later = before + (draw - before) / factor
    age = SCALE_H * np.where(draw <= before, draw, later) ** (1.0 / SHAPE)
    last = use * (END - born)
    stop = np.minimum(age, last)
    return Dated.of(Spells.of(0.0, stop, age <= last), born, born + stop / use)


def lower_edges(spells: Spells) -> tuple[float, float]:
    """Return the quoted lower edges of the reliability at `AT_H` and of B10."""
    lives = Quoter.of(spells, try_fit(spells), made_settings())
    at, life = (lives.interval(q) for q in (Quantity.reliability(AT_H), Quantity.life(0.1)))
    return at.low or 0.0, life.low or 0.0


@pytest.mark.parametrize("factor", [1.0, 4.0])
def test_bounds_since_the_change_hold_the_truth_since_then(factor):
    truth_r = np.exp(-factor * (AT_H / SCALE_H) ** SHAPE)
    truth_h = SCALE_H * (-np.log(0.9) / factor) ** (1.0 / SHAPE)
    missed = np.zeros(2)
    for i in range(FLEETS):
        r, h = lower_edges(fleet(i, factor).since(CHANGE))
        missed += [r > truth_r, h > truth_h]
    most = binom.ppf(0.999, FLEETS, 0.05)
    assert (missed <= most).all(), missed


def test_bounds_of_all_dates_do_not():
    """The same fleets without the date: why it is worth asking."""
    truth_r = np.exp(-4.0 * (AT_H / SCALE_H) ** SHAPE)
    missed = sum(lower_edges(fleet(i, 4.0).spells)[0] > truth_r for i in range(50))
    assert missed >= 15
