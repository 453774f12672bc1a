"""The quoted rule asked from arrays gives the digits that it gives through a folder.

A law of the package, no outside source: the lives of a demo study leave it as plain columns and
come back without study, records or folder.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import fleetstats as fs
from fleetstats.advice.judge import judge_claim
from fleetstats.advice.quoted import Quoter, quoted_interval
from fleetstats.advice.risk import advise_risk
from fleetstats.chapters.chapter import Base
from fleetstats.core.errors import ArgumentError
from fleetstats.studies.single import read_base
from fleetstats.study.settings import Settings, StudyKeys
from fleetstats.survival.weibull.fit_weibull import try_fit


@pytest.fixture(scope="module", params=["quiet-fleet", "workshop"])
def base(request: pytest.FixtureRequest) -> Base:
    return read_base(fs.read_study(f"datasets/{request.param}"))


def as_arrays(lives: fs.Spells) -> fs.Spells:
    """Return lives that were nothing but columns of numbers on the way."""
    columns = {
        "entry": lives.entry.tolist(), "exit": lives.exit_upper.tolist(),
        "exit_lower": lives.exit_lower.tolist(), "weight": lives.weight.tolist(),
    }  # fmt: skip
    return fs.Spells.of(failed=[fs.Event(e) for e in lives.event.tolist()], **columns)


def edges(one: fs.Interval) -> tuple[float | None, ...]:
    return one.estimate, one.low, one.high, one.level


def test_a_claims_reliability_has_the_same_digits(base: Base) -> None:
    s = base.settings
    hours = s.study.claimed_interval_h or 1000.0
    chapters = judge_claim(Quoter.of(base.spells, base.fit, s), hours, 0.95)
    mine = fs.quote(as_arrays(base.spells), fs.Quantity.reliability(hours), settings=s)
    if hours <= chapters.reach_h:
        assert edges(mine) == edges(chapters.reliability)
    plain = quoted_interval(base.spells, base.fit, fs.Quantity.reliability(hours), s)
    assert edges(mine) == edges(plain)
    assert mine.low is not None


def test_a_chance_ahead_has_the_same_digits(base: Base) -> None:
    s = replace(base.settings, study=replace(base.settings.study, claimed_interval_h=900.0))
    lives = Quoter.of(base.spells, base.fit, s)
    chapters = advise_risk(lives, lives.reach_h).at_claim
    what = fs.Quantity.conditional(900.0, s.check.interval_h)
    mine = fs.quote(as_arrays(base.spells), what, settings=s)
    assert edges(mine)[:2] == edges(chapters)[:2]
    if not base.spells.left_out:
        assert mine.high == chapters.high
    else:
        assert mine.high <= chapters.high


LIVES = fs.Spells.of(0, range(100, 1600, 50), [k % 5 == 3 for k in range(30)])


def test_without_settings_they_are_those_of_a_study_that_states_none() -> None:
    life = fs.Quantity.life(0.10)
    for level in (0.80, 0.90):
        stated = Settings(study=StudyKeys(title="", confidence=level))
        want = quoted_interval(LIVES, try_fit(LIVES), life, stated)
        assert edges(fs.quote(LIVES, life, level=level)) == edges(want)
        assert edges(fs.quote(LIVES, life, settings=stated)) == edges(want)
    assert fs.quote(LIVES, life).level == 0.90
    assert fs.quote(LIVES, life, settings=stated, level=0.5).level == 0.5
    # the careful edge is never kinder than that of the plain profile at the same ages
    profile = fs.band(LIVES, fs.fit_weibull(LIVES), life, level=0.90, method="profile")
    assert fs.quote(LIVES, life).low <= profile.low


def test_without_failures_there_is_an_edge_and_no_estimate() -> None:
    none = fs.Spells.of(0, range(100, 1600, 50), False)
    at = fs.quote(none, fs.Quantity.reliability(500.0))
    assert at.estimate is None
    assert 0.9 < at.low < 1.0
    ahead = fs.quote(none, fs.Quantity.conditional(500.0, 50.0))
    assert ahead.estimate is None
    assert 0.0 < ahead.high < 0.05


@pytest.mark.parametrize(
    "what", [fs.Quantity.shape(), fs.Quantity.hazard(5.0), fs.Quantity.scale()]
)
def test_what_the_rule_is_not_of_is_refused(what: fs.Quantity) -> None:
    with pytest.raises(ArgumentError, match=r"^what = .*fs\.band"):
        fs.quote(LIVES, what)
    assert np.isfinite(fs.quote(LIVES, fs.Quantity.conditional(0.0, 50.0)).high)
