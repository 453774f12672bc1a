"""How often is one of several sources that are all alike said to carry the answer?

Fleets are those of `alike_sources`, with a claim near what they can show (10 % accepted). A
conclusion near its limit turns when records are taken away; before the loss of as many engines at
random was held against it, the caution was given as in `TURNED`.

Measured once with 150 fleets a cell (Monte Carlo error 1.8 points at 5 %): see `MEASURED`.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from advice_fleets import made_settings
from alike_sources import alike

from fleetstats.advice.judge import judge_claim
from fleetstats.advice.quoted import Quoter, try_fit
from fleetstats.chapters.cautions.rules import caution_one_unit

TURNED = {(3, 60, 600.0): 0.413, (6, 20, 450.0): 0.073, (10, 40, 700.0): 0.187}
MEASURED = {(3, 60, 600.0): 0.020, (6, 20, 450.0): 0.0, (10, 40, 700.0): 0.0}
"""(sources, engines of each, claimed hours): share of all fleets with the caution `one-unit`."""


def carried(sources: int, engines: int, hours: float, fleets: int) -> float:
    """Return the share of fleets of alike sources in which the caution is given."""
    settings, said = made_settings(claim=hours), 0
    for k in range(fleets):
        lives = alike(sources, engines, 2.5, k)
        word = judge_claim(Quoter.of(lives, try_fit(lives), settings), hours, 0.9).word
        verdict = SimpleNamespace(word=word, claimed_h=hours, accepted_failure=0.1)
        advice: Any = SimpleNamespace(verdict=verdict)
        said += bool(caution_one_unit(lives, settings, advice))
    return said / fleets


def test_a_few_fleets_of_three_alike_sources() -> None:
    """Of 30 fleets 6 or more would come once in 300 times at 5 %; without the draws 7 have it."""
    assert carried(3, 60, 600.0, 30) < 6 / 30


@pytest.mark.slow
@pytest.mark.parametrize(("sources", "engines", "hours"), sorted(MEASURED))
def test_alike_sources_carry_the_answer_in_5_fleets_of_100_at_most(
    sources: int, engines: int, hours: float
) -> None:
    share = carried(sources, engines, hours, 150)
    assert share == pytest.approx(MEASURED[sources, engines, hours], abs=0.007)
    assert share <= 0.05
