"""What a stated doubt of the clocks does to the claim, as a chapter of a study."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from fleetstats.advice.advice import VERDICTS
from fleetstats.advice.clock_doubt.doubts import (
    clocks_sure,
    engine_doubts,
    every_clock_right,
    row_doubts,
)
from fleetstats.advice.judge import accepted_failure, judge_claim
from fleetstats.advice.left_out import held_to_left_out
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.chapter import Base
from fleetstats.chapters.clock_doubt.values import OTHERS, OWN, ClockDoubt, DoubtOf
from fleetstats.chapters.clock_doubt.words import say_clocks, say_law
from fleetstats.core.value import Value
from fleetstats.records.life import LifeRow
from fleetstats.spells.spells import Spells
from fleetstats.study.clock_settings import ClockKeys
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import at_most


def chapter_clock_doubt(base: Base, _done: Mapping[str, Value]) -> ClockDoubt | None:
    """Return the claim with and without the doubt of the clocks; None without doubt or claim."""
    told = weigh_clocks(base.spells, base.fit, base.settings)
    if told is None:
        return None
    return replace(told, by_kind=doubts_by_kind(base.built.rows, base.spells, base.settings))


def doubts_by_kind(
    rows: Sequence[LifeRow], spells: Spells, settings: Settings
) -> tuple[DoubtOf, ...]:
    """Return whose clocks are how far in doubt; empty where one doubt is stated for all.

    Parameters
    ----------
    rows : sequence of LifeRow
        The lives; of long tables none is kept, and `spells` tell of engines alone.
    spells : Spells
        The lives at risk.
    settings : Settings
        The doubts of the study, and its standard clock.
    """
    clocks, standard = settings.clocks, settings.hours.meter
    if not clocks.doubts and np.isnan(spells.clock_sd).all():
        return ()
    if not rows:
        return _by_doubt(spells, clocks)
    found: dict[str, dict[str, float]] = {}
    doubts: dict[str, list[float]] = {}
    for i, x in enumerate(rows):
        kind = x.meter or standard
        whose = kind if kind in clocks.doubts else OTHERS
        if x.clock_doubt is not None:
            whose = OWN
        told = clocks.stated(x.clock_doubt, kind)
        doubts.setdefault(whose, []).append(clocks.doubt if math.isnan(told) else told)
        # equal engines on one row are as many
        engine = x.engine_id if x.count == 1 else f"{x.engine_id} {i}"
        found.setdefault(whose, {})[engine] = float(x.count)
    order = [*clocks.doubts, OWN, OTHERS]
    return tuple(
        DoubtOf(
            whose=k,
            low=min(doubts.get(k, [clocks.stated(None, k)])),
            high=max(doubts.get(k, [clocks.stated(None, k)])),
            engines=sum(found.get(k, {}).values()),
        )
        for k in order
        if k in found or k in clocks.doubts
    )


def _by_doubt(spells: Spells, clocks: ClockKeys) -> tuple[DoubtOf, ...]:
    """Return the doubts of a long table: those stated, and the study's for the rest."""
    stated = ~np.isnan(spells.clock_sd)
    out = []
    for whose, k in ((OWN, stated), (OTHERS, ~stated)):
        if k.any():
            sd = row_doubts(spells, clocks)[k]
            n = float(spells.weight[k].sum())
            out.append(DoubtOf(whose=whose, low=float(sd.min()), high=float(sd.max()), engines=n))
    return tuple(out)


def weigh_clocks(spells: Spells, fit: Fit | None, settings: Settings) -> ClockDoubt | None:
    """Return the claim with and without the doubt of the clocks; None without doubt or claim."""
    hours = settings.study.claimed_interval_h
    if hours is None or clocks_sure(spells, settings.clocks):
        return None
    accepted = accepted_failure(settings)
    lives = Quoter.of(spells, fit, settings)
    right, bare = replace(settings, clocks=ClockKeys()), every_clock_right(spells)
    sure = lives.with_settings(right) if bare is spells else Quoter.of(bare, fit, right)
    now, then = (judge_claim(q, hours, 1.0 - accepted) for q in (lives, sure))
    life = Quantity.life(1.0 - settings.targets.reliability)
    doubts = engine_doubts(spells, settings.clocks)
    told = ClockDoubt(
        hours=hours,
        accepted=accepted,
        doubt_least=doubts.least,
        doubt=doubts.greatest,
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
            law=say_law(told.doubt_least, told.doubt, told.together),
            sure=at_most(told.sure_failure_high, told.accepted),
            sure_word=VERDICTS[told.sure_word],
            word=VERDICTS[told.word],
        ),
    )
