"""Makers of cautions on levels and on chosen values; see `caution_makers`."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from caution_makers import maker

from fleetstats.chapters.covariates.compute import _at_cautions, not_given, not_separable
from fleetstats.chapters.covariates.values import AnswerAt, LevelHeld, ValueAt
from fleetstats.spells import Spells
from fleetstats.survival.regression.covariates import build_covariates
from fleetstats.survival.regression.known_shape import life_at_shape
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.fields.categories import NOT_GIVEN


@maker("levels-not-given")
def _(over: bool) -> Iterable[Caution]:
    line = LevelHeld(
        column="use",
        level=NOT_GIVEN,
        reference=False,
        lives=101.0 if over else 100.0,
        hours=1.0,
        failures=0.0,
        oldest_h=1.0,
    )
    return not_given((line,), 1000.0)


@maker("levels-not-separable")
def _(over: bool) -> Iterable[Caution]:
    """Every engine of build B tows, or all but one."""
    n = 40
    use = np.array(["towing", "school"])[np.arange(n) % 2]
    build = np.where(use == "towing", "B", "A")
    build[1] = "A" if over else "B"
    lives = Spells.of(np.zeros(n), np.linspace(100, 1500, n), np.ones(n), build=build)
    table = build_covariates(lives, {}, labels={"use": use}, groups=("build",))
    return not_separable(table.set_aside)


def _answer(n: int, age_h: float) -> AnswerAt:
    lives = Spells.of([0.0], [800.0], [True])
    return AnswerAt(
        values=(ValueAt(name="use", value="towing", how="asked"),),
        law=None,
        shapes=(life_at_shape(lives, 0.1, shape=2.0, level=0.9, ages_h=(age_h,)),) if n else (),
        n=float(n),
        n_failed=float(n),
        reached_h=800.0 if n else 0.0,
        level=0.9,
        sentence="",
    )


@maker("values-not-seen")
def _(over: bool) -> Iterable[Caution]:
    return _at_cautions(_answer(0 if over else 1, 700.0))


@maker("values-not-seen/beyond")
def _(over: bool) -> Iterable[Caution]:
    return _at_cautions(_answer(1, 800.1 if over else 800.0))
