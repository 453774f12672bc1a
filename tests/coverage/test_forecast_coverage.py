"""Does the 90 % prediction interval hold 90 % of what comes?

Fleets of 250 engines, staggered ages, a third with delayed entry, 150 h more each. Counts are
whole, so an interval that leaves out at most 5 % on each side holds more than 90 %; calibration
is therefore measured on the randomised place of the outcome in its forecast (Czado, Gneiting &
Held 2009), which is uniform for a perfect forecast: 88 to 93 % of places lie within 5 to 95 %.

Measured in the full run (slow, 600 fleets a cell; shapes 1, 2.5 and 4): 89 to 90 % with 3 expected
failures, 89 to 90 % with 8, 89 to 90 % with 16, 89 to 91 % with 40. The default run is small and
asks only that nothing is badly off.
"""

import numpy as np
import pytest
from condition_sims import staggered_fleet

from fleetstats.bands.draws import draw_lives
from fleetstats.core.seeds import stream
from fleetstats.study.settings import EvidenceKeys
from fleetstats.survival.counting.count_law import CountLaw

AHEAD_H, N = 150.0, 250


def scale_for(expected, shape):
    """Scale at which a fleet followed from new shows so many failures."""
    ages = np.linspace(50.0, 1500.0, 400)
    low, high = np.log(300.0), np.log(1e7)
    for _ in range(80):
        mid = 0.5 * (low + high)
        seen = N * np.mean(-np.expm1(-((ages / np.exp(mid)) ** shape)))
        low, high = (mid, high) if seen > expected else (low, mid)
    return float(np.exp(mid))


def places(n_fleets, expected, shape, *, draws=300, plug=False):
    """Randomised places of outcomes in their forecasts, and how many intervals held."""
    scale = scale_for(expected, shape)
    out, held = [], 0
    for i in range(n_fleets):
        rng = stream(72, f"forecast-{expected}-{shape}", i)
        spells, ages = staggered_fleet(rng, n=N, shape=shape, scale_h=scale)
        rise = ((ages + AHEAD_H) / scale) ** shape - (ages / scale) ** shape
        came = int((rng.random(len(ages)) < -np.expm1(-rise)).sum())
        if plug:
            from fleetstats.survival.weibull.fit_weibull import fit_weibull

            p = fit_weibull(spells).conditional_failure(ages, AHEAD_H)[None, :]
        else:
            p = draw_lives(spells, EvidenceKeys(), draws, seed=i).conditional_failure(ages, AHEAD_H)
        law = CountLaw.of_draws(p)
        below = float(law.probability[:came].sum())
        out.append(below + rng.random() * (law.at_least(came) - law.at_least(came + 1)))
        low, high = law.interval(0.90)
        held += low <= came <= high
    return np.array(out), held / n_fleets


def test_the_interval_holds():
    u, held = places(60, 25, 2.5)
    inside = np.mean((u > 0.05) & (u < 0.95))
    assert inside > 0.90 - 3 * np.sqrt(0.09 / 60)
    assert held >= inside - 0.05
    assert 0.25 < np.median(u) < 0.75


@pytest.mark.slow
@pytest.mark.parametrize("shape", [1.0, 2.5, 4.0])
@pytest.mark.parametrize("expected", [3, 8, 16, 40])
def test_calibration(expected, shape):
    u, held = places(600, expected, shape)
    inside = np.mean((u > 0.05) & (u < 0.95))
    print(f"{expected} failures, shape {shape}: places {inside:.3f}, held {held:.3f}, "
          f"below 5 % {np.mean(u < 0.05):.3f}, above 95 % {np.mean(u > 0.95):.3f}")  # fmt: skip
    slack = 2 * np.sqrt(0.09 / 600)
    assert 0.88 - slack <= inside <= 0.93 + slack
    assert held >= 0.90 - slack


@pytest.mark.slow
def test_the_plug_in_falls_short():
    """With few failures, so that the tool's own interval has something to mend."""
    u, _ = places(600, 8, 2.5, plug=True)
    assert np.mean((u > 0.05) & (u < 0.95)) < 0.88
