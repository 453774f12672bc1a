"""Maker of the caution that doubt of the clocks moves the verdict; see `caution_makers`."""

from __future__ import annotations

from collections.abc import Iterable

from caution_makers import maker

from fleetstats.chapters.clock_doubt.chapter import caution_clocks
from fleetstats.chapters.clock_doubt.values import ClockDoubt
from fleetstats.vocabulary.caution import Caution


@maker("clocks-in-doubt")
def _(over: bool) -> Iterable[Caution]:
    told = ClockDoubt(
        hours=1000.0, accepted=0.1, doubt_least=0.05, doubt=0.05, together=1.0,
        word="not-yet-shown" if over else "supported", sure_word="supported",
        failure_high=0.101 if over else 0.1, sure_failure_high=0.09,
        life_low_h=990.0, sure_life_low_h=1050.0,
    )  # fmt: skip
    return caution_clocks(told)
