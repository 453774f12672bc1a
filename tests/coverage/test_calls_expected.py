"""What a list of calls expects is what comes: answers drawn from the laws, and truths revealed.

The tables with more fleets are printed by ``tests/tools/calls_study.py``.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from fleetstats.chapters.calls import list_calls
from fleetstats.chapters.calls.answers import answered
from fleetstats.chapters.calls.compute import parties_of
from fleetstats.chapters.calls.weigh import CallWeighing, Rule
from fleetstats.chapters.calls.whom import find_asked
from fleetstats.core.seeds import stream
from fleetstats.studies.single import read_base
from fleetstats.study.study import read_study
from tests.stale_fleets import reveal, write_stale_fleet

CALLS = 12


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    at = tmp_path_factory.mktemp("calls")
    write_stale_fleet(at, stream(3, "calls test"), engines=70, chance=0.02, shape=2.0, most_years=5)
    return at


def test_answers_drawn_from_the_laws_give_the_expected_bound_and_chance(fleet: Path) -> None:
    # every answer is drawn as a life goes on: one law for all, then each engine's own hazard
    base = read_base(read_study(fleet))
    calls = list_calls(base, most=CALLS)
    t = calls.together
    assert t is not None
    asked = {x.engine: x for x in find_asked(base).asked}
    first = tuple(asked[c.name] for c in calls.calls[:CALLS])
    rule = Rule(settings=base.settings, hours=calls.hours, confidence=0.95)
    assert base.settings.study.confidence == pytest.approx(0.90)
    weighing = CallWeighing(base.spells, first, parties_of(first, "engine")[1], rule)
    rng = stream(11, "calls, law by law")
    rows = rng.choice(len(weighing.laws), size=4000)
    on = weighing.laws.select(rows).further(
        weighing.from_h, rng.exponential(size=(len(rows), CALLS))
    )
    failed = weighing.from_h + on <= weighing.to_h
    came = failed.any(axis=1)
    se = np.sqrt(came.mean() * (1.0 - came.mean()) / len(came))
    assert abs(came.mean() - t.chance_bad) < 3.5 * se
    # those with bad news are asked of the rule itself; the others are all one fleet
    bad = np.flatnonzero(came)[:70]
    ends = np.minimum(weighing.from_h + on, weighing.to_h)
    high = np.array([rule.of(answered(base.spells, first, ends[i], failed[i])) for i in bad])
    error = np.hypot(high.std(ddof=1) / np.sqrt(len(high)), t.error / t.chance_bad)
    assert abs(high.mean() - t.if_bad) < 3.5 * error
    # not for each answer: a failure past the claimed hours speaks for a steeper curve before them
    assert t.if_good < high.mean()


def test_truths_revealed_agree_with_what_was_expected(tmp_path: Path) -> None:
    off, n_came, n_expected = [], 0, 0.0
    for k in range(8):
        rng = stream(5, "calls revealed", k)
        at = tmp_path / str(k)
        truth = write_stale_fleet(at, rng, engines=70, chance=0.15, shape=2.5, most_years=5)
        calls, told, failed = reveal(at, truth, CALLS)
        assert calls.together is not None
        off.append(told - calls.together.expected)
        n_came += failed
        n_expected += sum(c.chance_bad for c in calls.calls[:CALLS])
    # 3.5 standard errors of the mean, and of a Poisson count
    assert abs(np.mean(off)) < 3.5 * np.std(off, ddof=1) / np.sqrt(len(off))
    assert abs(n_came - n_expected) < 3.5 * np.sqrt(n_expected)
    assert n_expected > 5.0
