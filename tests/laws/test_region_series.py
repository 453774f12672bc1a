"""The region of many lives, their sum read off a series, against the sum itself."""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.spells import Spells
from fleetstats.survival.weibull import joint_region
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.survival.weibull.joint_region import estimate_joint_region


@pytest.mark.parametrize("between", [False, True])
@pytest.mark.parametrize(("stop_h", "smooth"), [(1500.0, True), (60.0, False)])
def test_a_region_read_off_a_series_is_that_of_the_sum(stop_h, smooth, between, monkeypatch):
    """Some half of the lives fail; or a dozen, so that the region is too wide for a series."""
    n = joint_region.SERIES_FROM
    rng = np.random.default_rng(9)
    stop = rng.uniform(0.3, 1.0, n) * stop_h
    entry = np.where(rng.random(n) < 0.4, stop * rng.uniform(0.0, 0.8, n), 0.0)
    end = 1400.0 * ((entry / 1400.0) ** 2 + rng.exponential(size=n)) ** 0.5
    failed = end < stop
    end = np.minimum(end, stop)
    lower = np.where(failed & between, entry + 0.7 * (end - entry), end)
    spells = Spells.of(entry, end, failed, exit_lower=lower)
    made = []
    monkeypatch.setattr(joint_region._Rows, "_made_series", _noting(made))
    read = estimate_joint_region(fit_weibull(spells), level=0.9)
    assert (made[0] is not None) == smooth
    monkeypatch.setattr(joint_region, "SERIES_FROM", n + 1)
    added = estimate_joint_region(fit_weibull(spells), level=0.9)
    assert len(made) == 1
    assert read.shape == pytest.approx(added.shape, rel=1e-9, nan_ok=True)
    assert read.scale_h == pytest.approx(added.scale_h, rel=1e-9, nan_ok=True)


def _noting(made):
    make = joint_region._Rows._made_series

    def noted(self):
        made.append(make(self))
        return made[-1]

    return noted
