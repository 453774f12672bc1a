"""After an overhaul, is an engine as good as new? First lives against later ones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from fleetstats.chapters.later_lives.values import CarriedAge, LaterLives
from fleetstats.chapters.later_lives.words import later_sentence
from fleetstats.core.errors import FitError
from fleetstats.core.value import Value
from fleetstats.records.life import LifeRow
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.groups.pooling import compare_scales
from fleetstats.survival.weibull.fit_weibull import fit_weibull

if TYPE_CHECKING:
    from fleetstats.advice.results import Results

CARRIED = (0.0, 0.1, 0.25, 0.5)
"""Shares of the hours before the overhaul that an engine may keep as age; 0 is as good as new."""


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
        sentence=later_sentence(
            ratio, n_first, n_later, tuple(carried), settings.targets.reliability, horizon
        ),
        horizon_h=horizon,
    )


def chapter_later_lives(base: Results, _done: Mapping[str, Value]) -> LaterLives | None:
    """Return whether lives after overhaul are like first ones."""
    return advise_later_lives(base.built.rows, base.spells, base.settings)
