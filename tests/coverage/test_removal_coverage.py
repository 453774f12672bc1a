"""Honest removals are doubted in at most 5 % of fleets; hidden failures are found.

Simulated from stated truths; the share promised is that of Holm (1979) at 5 %, and the tolerance
is two binomial standard errors of the number of fleets. Full numbers: `pytest -m slow`.
"""

from __future__ import annotations

import numpy as np
import pytest
from advice_fleets import made_settings
from censored_fleets import removal_fleet

from fleetstats.chapters.removals.compute import advise_removals, all_kinds, weigh_kinds
from fleetstats.spells import Spells
from fleetstats.survival.counting.ageing import estimate_ageing
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.limits import HONEST_P


def doubted(spells, rows):
    """Return whether ages, and whether anything at all, is doubted."""
    weighed = weigh_kinds(spells, all_kinds(spells, rows), 0.90)
    aged = any(w.p_held is not None and w.p_held < HONEST_P for w in weighed)
    return aged, aged or any(w.source is not None and w.source.p_held < HONEST_P for w in weighed)


def share(n_fleets, seed, n, **truth):
    rng = np.random.default_rng(seed)
    return np.mean([doubted(*removal_fleet(rng, n, **truth)) for _ in range(n_fleets)], axis=0)


def most(n_fleets, p=0.05):
    return p + 2.0 * np.sqrt(p * (1.0 - p) / n_fleets)


@pytest.mark.parametrize(("n", "sources"), [(60, 1), (200, 3)])
def test_honest_removals_are_doubted_in_at_most_one_fleet_in_twenty(n, sources):
    assert share(150, 5, n, sources=sources)[1] <= most(150)


@pytest.mark.slow
@pytest.mark.parametrize("n", [60, 200, 600])
@pytest.mark.parametrize("sources", [1, 3, 6])
def test_honest_removals_full(n, sources):
    assert share(500, 5, n, sources=sources)[1] <= most(500)


@pytest.mark.slow
@pytest.mark.parametrize(("n", "least"), [(60, 0.30), (100, 0.40), (200, 0.70), (400, 0.95)])
def test_failures_called_prop_strikes_are_found(n, least):
    """70 % of the failures, among honest prop strikes as many; 6, 9, 19 and 38 on average."""
    assert share(200, 6, n, recoded=0.7)[0] >= least


def test_recoded_failures_turn_a_supported_claim_on_the_first_page():
    """400 engines whose claim is supported only since 70 % of their failures are prop strikes."""
    rng = np.random.default_rng(11)
    spells, rows = removal_fleet(rng, 600, recoded=0.7, scale_h=1700.0)
    settings = made_settings(claim=800.0)
    found = advise_removals(spells, try_fit(spells), settings, rows)
    assert found.shown
    strikes = next(k for k in found.kinds if k.kind == "prop strike")
    assert strikes.ageing.p_rising < 1e-4
    told = [c for c in found.cautions if c.code == "aged-removals"]
    assert told
    assert told[0].proviso.startswith(f"{strikes.n:.0f} removals (prop strike) come with age")
    honest, rows = removal_fleet(rng, 600, recoded=0.0, scale_h=4000.0)
    found = advise_removals(honest, try_fit(honest), settings, rows)
    assert found.shown
    assert not [c for c in found.cautions if c.code.startswith("aged-removals")]


@pytest.mark.parametrize("level", [0.90])
def test_limits_of_the_shape_hold(level):
    """Shape 2 among engines that run on, 6 events on average: both edges of a 90 % band."""
    rng = np.random.default_rng(3)
    below = above = made = 0
    for _ in range(300):
        event, end = 2500.0 * rng.weibull(2.0, 60), rng.uniform(200.0, 1500.0, 60)
        lives = Spells.of(0.0, np.minimum(event, end), event < end)
        if not lives.n_failed:
            continue
        a = estimate_ageing(lives, level=level)
        made += 1
        below += a.high is not None and a.high < 2.0
        above += a.low is not None and a.low > 2.0
    tail = 0.5 * (1.0 - level)
    assert max(below, above) / made <= most(made, tail)


@pytest.mark.slow
@pytest.mark.parametrize(("n", "mean_h", "share"), [(30, 10_000, 0.05), (30, 1000, 0.06),
                                                    (20, 300, 0.075), (12, 20, 0.10)])  # fmt: skip
def test_the_alarm_of_one_kind_is_as_its_page_says(n, mean_h, share):
    """Random removals alone: few, a third, three in four, and every life of 12 (worst case)."""
    rng = np.random.default_rng(1)
    p = []
    for _ in range(1500):
        event, end = rng.exponential(mean_h, n), rng.uniform(100.0, 1000.0, n)
        lives = Spells.of(0.0, np.minimum(event, end), event < end)
        p.append(estimate_ageing(lives).p_rising if lives.n_failed else 1.0)
    assert np.mean(np.array(p) < 0.05) <= most(1500, share)
