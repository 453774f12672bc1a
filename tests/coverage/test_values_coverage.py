"""How often bands of effects, and of life at chosen values, hold the truth.

Lives are Weibull of shape 2.5 in two uses and two builds; towing multiplies life by 0.6, build B by
1.2, and B tows less. A third enter late. Nominal 90 %, each edge one-sided 95 %. Figures of 200
fleets (seed 13) stand in `MEASURED`; a run of fewer must not lie below them by more than chance.
"""

import math
import os

import numpy as np
import pytest

from fleetstats.core.seeds import stream
from fleetstats.spells import Spells
from fleetstats.survival.regression.at_values import quote_at
from fleetstats.survival.regression.covariates import build_covariates
from fleetstats.survival.regression.fitted import Fitted, bare_levels
from fleetstats.survival.regression.regression import profile_coefficient

SHAPE, SCALE_H, TOWING, NEWER, P, AGE_H = 2.5, 2000.0, 0.6, 1.2, 0.1, 600.0
FLEETS = 200 if os.environ.get("FLEETSTATS_FULL") else 30
NAMES = ("factor", "life", "life low", "reliability", "hazard")


def fleet(rng, n, stop_h):
    newer = rng.random(n) < 0.4
    tow = rng.random(n) < np.where(newer, 0.25, 0.5)
    scale = SCALE_H * np.where(tow, TOWING, 1.0) * np.where(newer, NEWER, 1.0)
    life = scale * rng.weibull(SHAPE, n)
    entry = rng.uniform(0, 400, n) * (rng.random(n) < 0.33)
    stop = rng.uniform(0.5 * stop_h, stop_h, n)
    keep = (life > entry) & (stop > entry)
    spells = Spells.of(
        entry[keep], np.minimum(life, stop)[keep], (life <= stop)[keep],
        build=np.where(newer[keep], "B", "A"),
    )  # fmt: skip
    return spells, np.where(tow[keep], "towing", "school")


def held(rng, n, stop_h):
    """Return failures, and for each of `NAMES` whether the band holds the truth."""
    spells, use = fleet(rng, n, stop_h)
    design = build_covariates(spells, {}, labels={"use": use}, groups=("build",))
    every = np.ones(2, dtype=bool)
    if bare_levels(spells, design).any():
        return None
    part = Fitted.of(spells, design, every, held=False)
    j = next(i for i, n in enumerate(design.names) if n.startswith("use"))
    low, high = profile_coefficient(part.problem, part.design, part.best, 1 + j, 0.90)
    asked = np.zeros(2)
    for at, name in enumerate(design.names):
        column, _, contrast = name.partition(": ")
        asked[at] = float(contrast.startswith("towing v" if column == "use" else "A v"))
    law = quote_at(spells, design, asked, use == "towing", shares=(P,), ages_h=(AGE_H,))
    true_h = SCALE_H * TOWING * (-math.log1p(-P)) ** (1 / SHAPE)
    cumulative = (AGE_H / (SCALE_H * TOWING)) ** SHAPE
    (life,), (age,) = law.lives, law.ages
    true_b = math.log(TOWING) * (1 if design.names[j].startswith("use: towing") else -1)

    def inside(edges, x):
        return (edges.low or 0.0) <= x <= (edges.high or math.inf)

    return spells.n_failed, (
        (-math.inf if low is None else low) <= true_b <= (math.inf if high is None else high),
        inside(life.life_h, true_h),
        (life.life_h.low or 0.0) <= true_h,
        inside(age.reliability, math.exp(-cumulative)),
        inside(age.hazard_per_h, SHAPE * cumulative / AGE_H),
    )


CASES = {"about 20 failures": (60, 1400.0), "about 90 failures": (160, 2200.0)}


@pytest.mark.parametrize("case", CASES)
def test_bands_at_values_hold_what_was_measured(case):
    n, stop_h = CASES[case]
    rows, failures = [], []
    for i in range(FLEETS):
        got = held(stream(13, "values", i), n, stop_h)
        if got is not None:
            failures.append(got[0])
            rows.append(got[1])
    shares = dict(zip(NAMES, np.mean(rows, axis=0), strict=True))
    print(case, len(rows), f"mean failures {np.mean(failures):.1f}", shares)
    for name, share in shares.items():
        want = MEASURED[case][name]
        assert share >= want - 3.0 * math.sqrt(want * (1 - want) / len(rows)), (name, share)


MEASURED = {
    "about 20 failures": dict(zip(NAMES, (0.918, 0.908, 0.944, 0.903, 0.908), strict=True)),
    "about 90 failures": dict(zip(NAMES, (0.875, 0.920, 0.945, 0.895, 0.910), strict=True)),
}
"""Shares of 200 fleets whose band holds the truth, by case."""
