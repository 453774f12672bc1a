"""What a stated doubt of the clocks does to the claim, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from fleetstats.advice.advice import VERDICTS
from fleetstats.advice.judge import accepted_failure, judge_claim
from fleetstats.advice.left_out import held_to_left_out
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.chapter import Base
from fleetstats.chapters.clock_doubt.values import ClockDoubt
from fleetstats.chapters.clock_doubt.words import say_clocks, say_law
from fleetstats.core.value import Value
from fleetstats.spells.spells import Spells
from fleetstats.study.clock_settings import ClockKeys
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import at_most


def chapter_clock_doubt(base: Base, _done: Mapping[str, Value]) -> ClockDoubt | None:
    """Return the claim with and without the doubt of the clocks; None without doubt or claim."""
    return weigh_clocks(base.spells, base.fit, base.settings)


def weigh_clocks(spells: Spells, fit: Fit | None, settings: Settings) -> ClockDoubt | None:
    """Return the claim with and without the doubt of the clocks; None without doubt or claim."""
    hours = settings.study.claimed_interval_h
    if settings.clocks.sure or hours is None:
        return None
    accepted = accepted_failure(settings)
    lives = Quoter.of(spells, fit, settings)
    sure = lives.with_settings(replace(settings, clocks=ClockKeys()))
    now, then = (judge_claim(q, hours, 1.0 - accepted) for q in (lives, sure))
    life = Quantity.life(1.0 - settings.targets.reliability)
    told = ClockDoubt(
        hours=hours,
        accepted=accepted,
        doubt=settings.clocks.doubt,
        together=settings.clocks.together,
        word=now.word,
        sure_word=then.word,
        failure_high=now.failure_high_with_left_out or now.failure_high,
        sure_failure_high=then.failure_high_with_left_out or then.failure_high,
        life_low_h=held_to_left_out(lives, life).low,
        sure_life_low_h=held_to_left_out(sure, life).low,
    )
    return replace(told, sentence=say_clocks(told), cautions=caution_clocks(told))


def caution_clocks(told: ClockDoubt) -> tuple[Caution, ...]:
    """Return the caution that the doubt of the clocks, and not the lives, makes the verdict."""
    if told.word == told.sure_word:
        return ()
    return (
        caution(
            "clocks-in-doubt",
            value=at_most(told.failure_high, told.accepted),
            limit=at_most(told.accepted, told.accepted),
            law=say_law(told.doubt, told.together),
            sure=at_most(told.sure_failure_high, told.accepted),
            sure_word=VERDICTS[told.sure_word],
            word=VERDICTS[told.word],
        ),
    )
