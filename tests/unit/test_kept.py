"""What is kept with a value: made once, never wrong, and out of sight."""

from __future__ import annotations

import copy
import pickle

import numpy as np
import pytest

from fleetstats.bands.bayes.mixture import ShapeMixture
from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.bands.likelihood.profile import weibull_region
from fleetstats.bands.likelihood.surface import Surface
from fleetstats.core.errors import NoMaximum
from fleetstats.core.kept import kept
from fleetstats.spells import Spells


def fleet(gap: float = 0.0) -> Spells:
    stop = np.array([300.0, 500.0, 700.0, 800.0, 900.0, 1000.0])
    failed = np.array([0, 1, 0, 1, 1, 0])
    return Spells.of(np.zeros(6), stop, failed, exit_lower=stop - gap * failed)


def test_work_is_done_once_for_a_value_and_a_key() -> None:
    spells, calls = fleet(), []

    def work() -> int:
        calls.append(1)
        return len(calls)

    assert [kept(spells, "a", work), kept(spells, "a", work), kept(spells, "b", work)] == [1, 1, 2]
    assert kept(fleet(), "a", work) == 3


def test_work_that_fails_is_tried_again() -> None:
    spells = fleet().replace(event=np.zeros(6))
    for _ in range(2):
        with pytest.raises(NoMaximum):
            weibull_region(spells, level=0.9)


@pytest.mark.parametrize("gap", [0.0, 50.0])
def test_each_prior_and_each_level_has_its_own(gap: float) -> None:
    spells = fleet(gap)
    priors = [
        ShapePrior(),
        ShapePrior(median=2.0),
        ShapePrior(log_sd=0.5),
        ShapePrior(stated=True),
    ]
    for prior in priors:
        ShapeMixture.of_spells(spells, prior)
    for prior in priors:
        shared, fresh = (ShapeMixture.of_spells(s, prior) for s in (spells, fleet(gap)))
        assert ShapeMixture.of_spells(spells, prior) is shared
        assert shared == fresh
    narrow, broad = (weibull_region(spells, level=c) for c in (0.8, 0.95))
    assert narrow.low > broad.low
    assert weibull_region(spells, level=0.95) is broad
    fresh_region = weibull_region(fleet(gap), level=0.95)
    assert (broad.low, broad.high) == (fresh_region.low, fresh_region.high)
    # other lives, even made from these, share nothing with them
    assert Surface.of_spells(spells.select(np.ones(6, dtype=bool))) is not Surface.of_spells(spells)


def test_what_is_kept_shows_nowhere() -> None:
    spells, bare = fleet(), fleet()
    before = spells.to_dict()
    Surface.of_spells(spells)
    assert spells.to_dict() == before
    assert spells == bare
    for other in (copy.copy(spells), copy.deepcopy(spells), pickle.loads(pickle.dumps(spells))):
        assert other == spells
        assert "_kept" not in other.__dict__
    assert len(pickle.dumps(spells)) == len(pickle.dumps(bare))
