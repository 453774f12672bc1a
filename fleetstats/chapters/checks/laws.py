"""Laws of the warning time side by side: what each says at an interval not yet flown."""

from __future__ import annotations

import numpy as np

from fleetstats.bands.interval import Interval
from fleetstats.chapters.checks.values import CheckInterval, WarningLaw
from fleetstats.core.units import text_hours, text_number, text_percent
from fleetstats.core.value import Array
from fleetstats.study.settings import Settings
from fleetstats.survival.delay.delay_fitted import DelayFit
from fleetstats.survival.delay.delay_laws import UNSEEN
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import LAWS_APART
from fleetstats.vocabulary.wording import stated

ASIDE = (0.5, 1.0, 2.0)
"""Times the interval judged at which the laws are laid side by side."""


def compare_laws(fits: tuple[DelayFit, ...], settings: Settings) -> tuple[WarningLaw, ...]:
    """Return the laws averaged, at the assumed chance of detection; none where one was stated."""
    mid, level = fits[1], settings.study.confidence
    if len(mid.laws) < 2:
        return ()
    hours = settings.check.interval_h * np.array(ASIDE)
    best = max(x.log_likelihood for x in mid.laws)
    out = []
    for x in mid.laws:
        edges = _edges(fits, x.law, hours, level)
        out.append(
            WarningLaw(
                law=x.law,
                weight=x.weight,
                mean_delay_h=x.model.mean_delay_h,
                delay_shape=x.model.delay_shape,
                no_warning=x.model.no_warning,
                fall=2.0 * (best - x.log_likelihood),
                hours=hours,
                slip=x.model.slip(hours),
                slip_low=edges and edges[0],
                slip_high=edges and edges[1],
            )
        )
    return tuple(out)


def bound_unseen(fits: tuple[DelayFit, ...], level: float) -> Interval | None:
    """Return the share of faults that no check sees, its limits the widest over detection."""
    best = [x.model.no_warning for x in fits[1].laws if x.law == UNSEEN]
    if not best:
        return None
    limits = [f.unseen_limits(level) for f in fits]
    return Interval(
        name="share of faults that no check sees",
        estimate=best[0],
        low=min(x[0] for x in limits),
        high=max(x[1] for x in limits),
        level=level,
        method="profile",
        unit="probability",
    )


def _edges(
    fits: tuple[DelayFit, ...], law: str, hours: Array, level: float
) -> tuple[Array, Array] | None:
    """Return a law's limits, the widest over detection; None where each detection rules it out."""
    found = [f.slip_limits_of(law, hours, level) for f in fits]
    kept = [x for x in found if x is not None]
    if not kept:
        return None
    return np.min([x[0] for x in kept], axis=0), np.max([x[1] for x in kept], axis=0)


def _wanted(answer: CheckInterval) -> list[float]:
    """Return the intervals for which the answer speaks.

    The one judged, and the careful edges of the stated targets; half or double the one judged
    where no interval is short enough, or every one is. At the interval at which the checks were
    made the laws say the same, whatever they are.
    """
    usual = answer.usual_h
    edges = [x.hours.low for x in answer.longest if x.stated]
    return [usual, *(ASIDE[-1] * usual if h is None else h or ASIDE[0] * usual for h in edges)]


def doubt_law(fits: tuple[DelayFit, ...], answer: CheckInterval) -> tuple[Caution, ...]:
    """Caution where laws that the records do not rule out part at an interval that is wanted."""
    hours = np.array(_wanted(answer))
    if len(answer.laws) < 2:
        return ()
    edges = [_edges(fits, x.law, hours, answer.level) for x in answer.laws]
    highs = np.array([e[1] for e in edges if e is not None])
    return law_caution(hours, highs.min(axis=0), highs.max(axis=0))


def law_caution(hours: Array, least: Array, most: Array) -> tuple[Caution, ...]:
    """Return the caution at the interval where the upper limits of the laws part most.

    Parameters
    ----------
    hours : (m,) float
        Intervals wanted.
    least, most : (m,) float
        Least and greatest upper limit of the share that fails first, over the laws.
    """
    ratio = most / least
    at = int(np.argmax(ratio))
    if ratio[at] <= LAWS_APART:
        return ()
    return (
        caution(
            "warning-law",
            value=f"{text_number(ratio[at], digits=3)} times",
            limit=f"{stated(LAWS_APART)} times",
            every=text_hours(hours[at]),
            least=text_percent(least[at]),
            most=text_percent(most[at]),
        ),
    )
