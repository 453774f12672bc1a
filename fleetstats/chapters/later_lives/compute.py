"""After an overhaul, is an engine as good as new? First lives against later ones."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.core.units import text_hours
from fleetstats.core.value import Value, value
from fleetstats.records.lives.life import LifeRow
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.groups.pooling import ScaleRatio, compare_scales
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.vocabulary.wording import count, hours_near

if TYPE_CHECKING:
    from fleetstats.advice.results import Results

CARRIED = (0.0, 0.1, 0.25, 0.5)
"""Shares of the hours before the overhaul that an engine may keep as age; 0 is as good as new."""


@value
class CarriedAge(Value):
    """The fit if a share of the hours before overhaul stayed with the engine as age.

    `life_h` is the B-life for the study's target, of an engine that is new; `log_likelihood` may be
    compared between rows, since each gives the probability of the same failures.
    """

    share: float
    shape: float
    life_h: float
    log_likelihood: float


@value
class LaterLives(Value):
    """First and later lives compared, and what follows if overhaul renews only in part.

    Lives of `carried` beyond `horizon_h`, where the evidence ends, are extrapolation.
    """

    ratio: ScaleRatio
    n_first: float
    n_later: float
    carried: tuple[CarriedAge, ...]
    target: float
    sentence: str
    horizon_h: float = math.inf


def advise_later_lives(
    rows: Sequence[LifeRow], spells: Spells, settings: Settings
) -> LaterLives | None:
    """Compare lives after overhaul with first lives, on the clock since overhaul.

    Parameters
    ----------
    rows : sequence of LifeRow
        The life behind each spell, in the same order; `life` 0 is the first one.
    spells : Spells
        The spells.
    settings : Settings
        Margin within which lives count as alike, confidence, reliability target.

    Returns
    -------
    LaterLives or None
        None where the clock runs since new (then a later life is older by construction), or
        where there are no lives of both kinds.

    Notes
    -----
    Carried age is the virtual age of Kijima (1989, from memory): after overhaul an engine has the
    age ``share x hours since new at the overhaul``.
    """
    if settings.hours.basis != "since-overhaul":
        return None
    later = np.array([r.life != 0 for r in rows], dtype=bool)
    if not later.any() or later.all():
        return None
    margin = settings.groups.margin
    ratio = compare_scales(
        spells.select(later), spells.select(~later),
        names=("later lives", "first lives"), margin=(margin[0], margin[1]),
        level=settings.study.confidence, shapes=settings.evidence.shapes,
    )  # fmt: skip
    before = np.where(later, [r.life_start_h for r in rows], 0.0)
    p = 1.0 - settings.targets.reliability
    carried = []
    for share in CARRIED:
        moved = spells.replace(
            entry=spells.entry + share * before,
            exit_lower=spells.exit_lower + share * before,
            exit_upper=spells.exit_upper + share * before,
        )
        try:
            fit = fit_weibull(moved)
        except FitError:
            continue
        carried.append(
            CarriedAge(
                share=share,
                shape=float(fit.shape),
                life_h=float(fit.quantile(np.array([p]))[0]),
                log_likelihood=float(fit.log_likelihood),
            )
        )
    horizon = spells.horizon_h(least=settings.evidence.min_at_risk)
    n_later = float(spells.weight[later].sum())
    n_first = float(spells.weight[~later].sum())
    return LaterLives(
        ratio=ratio,
        n_first=n_first,
        n_later=n_later,
        carried=tuple(carried),
        target=settings.targets.reliability,
        sentence=_sentence(
            ratio, n_first, n_later, tuple(carried), settings.targets.reliability, horizon
        ),
        horizon_h=horizon,
    )


def _from_to(low: str, high: str) -> str:
    return f"stays at {low}" if low == high else f"lies between {low} and {high}"


def _sentence(
    ratio: ScaleRatio,
    n_first: float,
    n_later: float,
    carried: tuple[CarriedAge, ...],
    target: float,
    horizon_h: float,
) -> str:
    text = (
        f"{count(n_first, 'first life', 'first lives')} and "
        f"{count(n_later, 'life', 'lives')} after overhaul are in these records. {ratio.sentence}"
    )
    if len(carried) > 1:
        lives = [c.life_h for c in carried]
        text += (
            f" If overhaul leaves up to {100 * carried[-1].share:g} % of the hours before it as "
            f"age, the best estimate of the hours that {100 * target:g} % of new engines reach "
            f"{_from_to(hours_near(min(lives)), hours_near(max(lives)))}."
        )
        if max(lives) > horizon_h:
            text += f" Beyond {text_hours(horizon_h)} that is extrapolation."
    return text


def chapter_later_lives(base: Results, _done: Mapping[str, Value]) -> LaterLives | None:
    """Return whether lives after overhaul are like first ones."""
    return advise_later_lives(base.built.rows, base.spells, base.settings)
