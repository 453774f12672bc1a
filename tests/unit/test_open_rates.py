"""The bound of each open shape, sought once where shapes share a deviance, is that of each alone.

Source of the formula: the gamma bound of an assumed shape, as in the module that is tested.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import gammaincinv, ndtr, ndtri

from fleetstats.bands import open_shapes
from fleetstats.core.seeds import stream


@pytest.mark.parametrize("confidence", [0.6, 0.9, 0.99])
@pytest.mark.parametrize("share_at_peak", [0.0, 0.5, 1.0])
def test_each_rate_is_to_the_byte_what_its_own_shape_gives(
    confidence: float, share_at_peak: float
) -> None:
    rng = stream(5, "open rates")
    rows, shapes = 7, 30
    r = np.round(rng.gamma(1.0, 10.0, rows))
    deviance = rng.gamma(1.0, 2.0, (rows, shapes))
    deviance[rng.random((rows, shapes)) < share_at_peak] = 0.0
    log_power = rng.normal(size=shapes)
    got = open_shapes._log_rates(deviance, r, log_power, confidence)
    c = 1.0 + open_shapes.LIFT * r / (r + open_shapes.LIFT_AT) ** 2
    for i in range(rows):
        for j in range(shapes):
            left = c[i] * float(ndtri(confidence)) ** 2 - deviance[i, j]
            want = -np.inf
            if left >= 0.0:
                mean = gammaincinv(r[i] + 1.0, ndtr(np.sqrt(left)))
                want = np.log(mean) - log_power[j]
            assert got[i, j] == want
