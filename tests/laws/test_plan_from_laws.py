"""One failure more never moves plan-from later, whatever the risk target, seen or left out.

Made fleets of no failure to twelve (``tests/tools/quoted_study.py``), each advised with an accepted
chance between checks that many cannot show: a target shown at no age must not fall silent. One
running engine is turned into a failure at its own hours, or one failure without hours is added.
Asked is the plan-from at the hours of the added failure or beyond. No outside source.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from advice_fleets import made_settings
from quoted_study import SEED, law_fleets

from fleetstats.advice.advice import Advice
from fleetstats.advice.advise import advise_hours
from fleetstats.core.seeds import stream
from fleetstats.spells import Event, Spells
from fleetstats.spells.left_out import LeftOut
from fleetstats.survival.weibull.fit_weibull import try_fit

BETTER = {"contradicted": 0, "hours-do-not-tell": 1, "not-yet-shown": 1, "supported": 2}
CLAIM_H, TARGETS = 1000.0, (0.02, 0.005)
MOST_LATER = 0.25
"""Share of the hours by which plan-from may come later: the chance before the next check may ease
with a failure more (`open_shapes.EASED`), and with it the age that a risk target governs.
Measured over 2,000 fleets: later at all in 0.2 % of them and at most by 3.7 %; where failures are
left out in 0.7 % of 3,923 pairs and at most by 24 %. Without a risk target never."""

FLEETS = [pytest.param(40), pytest.param(2000, marks=pytest.mark.slow)]


def advised(fleet: Spells, risk: float) -> Advice:
    settings = made_settings(
        claim=CLAIM_H, targets={"accepted_failure_at_claim": 0.1, "risk_per_check": risk}
    )
    return advise_hours(fleet, try_fit(fleet), settings, curves=False)


def plan_from_h(a: Advice) -> float:
    """Return plan-from before rounding, held to the evidence; 0 where there is none."""
    edge = a.overhaul_band.plan_from
    if edge.hours is None:
        return 0.0
    return min(edge.unrounded_h or a.horizon.supported_h, a.horizon.supported_h)


def left_out(rng: np.random.Generator, fleet: Spells, row: int) -> LeftOut:
    ends = (0.0, fleet.oldest_h) if rng.random() < 0.5 else rng.uniform(0.0, fleet.oldest_h, 2)
    return LeftOut(
        file="returns.csv", row=row, low_h=float(min(ends)), high_h=float(max(ends)),
        reason="has no hours",
    )  # fmt: skip


@pytest.mark.parametrize("with_left_out", [False, True], ids=["all counted", "some left out"])
@pytest.mark.parametrize("fleets", FLEETS)
def test_one_failure_more_never_moves_plan_from_later(fleets: int, with_left_out: bool) -> None:
    rng, states, later = stream(SEED, "plan-from"), Counter[str](), [0.0]
    for k, (fleet, draw) in enumerate(law_fleets(fleets, SEED + 11)):
        if fleet.n_failed > 12:
            continue
        i = int(draw.choice(np.flatnonzero(~fleet.failed)))
        if with_left_out:
            fleet = fleet.with_left_out([left_out(rng, fleet, 1)])
        event = np.array(fleet.event)
        event[i] = int(Event.FAILED)
        more = [(fleet.replace(event=event), float(fleet.exit_upper[i]))]
        if with_left_out:
            of_any_age = LeftOut(file="returns.csv", row=2, low_h=0.0, high_h=fleet.oldest_h,
                                 reason="has no hours")  # fmt: skip
            more.append((fleet.with_left_out([*fleet.left_out, of_any_age]), 0.0))
        risk = float(rng.choice(TARGETS))
        a = advised(fleet, risk)
        states[a.overhaul_band.state] += 1
        for other, age_h in more:
            b = advised(other, risk)
            assert a.verdict is not None
            assert b.verdict is not None
            if age_h <= CLAIM_H:
                assert BETTER[b.verdict.word] <= BETTER[a.verdict.word], k
            later.append(plan_from_h(b) / max(plan_from_h(a), age_h, 1.0) - 1.0)
    assert max(later) <= MOST_LATER
    assert np.mean(np.array(later) > 1e-6) <= 0.05
    assert states["target-not-shown"] > 0.2 * fleets
    assert states["not-enough-evidence"] < 0.02 * fleets
