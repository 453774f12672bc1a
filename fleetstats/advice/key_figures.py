"""The few figures of an advice that can be set beside those of another."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import final

from fleetstats.advice.advice import Advice
from fleetstats.advice.advise import advise_hours
from fleetstats.core.errors import FitError
from fleetstats.core.value import Value, value
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.weibull.fit_weibull import fit_weibull

COMPARED_RESAMPLES = 200
"""Resamples behind each advice that is only compared with others; the seed is the same for all."""


@final
@value
class AdviceFigure(Value):
    """What an advice comes to: the overhaul band, the target life and the verdict.

    Hours are None where the records give none. `verdict` is blank without a claim; `governed_by`
    names the answer that sets the start of the band.
    """

    n_failed: float
    state: str
    plan_from_h: float | None
    expect_at_h: float | None
    not_beyond_h: float | None
    life_h: float | None
    life_low_h: float | None
    shape: float | None
    verdict: str
    governed_by: str = ""

    def change_h(self, other: AdviceFigure) -> float | None:
        """Return how far the start of the band moves from this figure to `other`, in hours."""
        if self.plan_from_h is None or other.plan_from_h is None:
            return None
        return other.plan_from_h - self.plan_from_h


Advising = Callable[[Spells], AdviceFigure]
"""Turns lives into the figures of their advice."""


def figure_of(advice: Advice) -> AdviceFigure:
    """Return the figures of one advice."""
    band, life = advice.overhaul_band, advice.reliability.life
    shape = advice.wear_out.shape
    return AdviceFigure(
        n_failed=advice.n_failed,
        state=band.state,
        plan_from_h=band.plan_from.hours,
        expect_at_h=band.expect_at.hours,
        not_beyond_h=band.not_beyond.hours,
        life_h=None if life is None else life.estimate,
        life_low_h=None if life is None else life.low,
        shape=None if shape is None else shape.estimate,
        verdict="" if advice.verdict is None else advice.verdict.word,
        governed_by=band.plan_from.governed_by,
    )


def advising(settings: Settings, *, resamples: int | None = None) -> Advising:
    """Return the function from lives to figures under one study's settings.

    Parameters
    ----------
    settings : Settings
        Targets, claim, confidence.
    resamples : int, optional
        Resamples for each advice instead of the study's, where many are compared; the claim is
        judged with the study's all the same.
    """
    used = settings
    if resamples is not None and resamples < settings.evidence.resamples:
        used = replace(settings, evidence=replace(settings.evidence, resamples=resamples))

    def figure(spells: Spells) -> AdviceFigure:
        try:
            fit = fit_weibull(spells)
        except FitError:
            fit = None
        return figure_of(advise_hours(spells, fit, used, curves=False, judged_by=settings))

    return figure
