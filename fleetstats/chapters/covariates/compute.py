"""The chapter on covariates: what stretches and what shortens life in these records."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from fleetstats.chapters.covariates.values import Effects
from fleetstats.chapters.covariates.words import effects_sentence
from fleetstats.core.errors import FitError
from fleetstats.core.value import Array
from fleetstats.records.life import LifeRow
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.regression.covariates import build_covariates
from fleetstats.survival.regression.proportional import Proportional, fit_proportional
from fleetstats.survival.regression.regression import Regression, fit_accelerated
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import SHOWN_P


def numbers_of(rows: tuple[LifeRow, ...], names: tuple[str, ...]) -> dict[str, Array]:
    """Return (n,) numeric columns of the rows by name; NaN where a row has none.

    A name that no row has is left out (the audit says so): with it no row would be complete.
    """
    return {
        name: np.array([float(row.extra.get(name, np.nan)) for row in rows], dtype=float)
        for name in names
        if any(name in row.extra for row in rows)
    }


def advise_effects(
    spells: Spells, numbers: Mapping[str, Array], settings: Settings
) -> Effects | None:
    """Return what covariates do to life; None when the study has neither numbers nor two builds.

    Parameters
    ----------
    spells : Spells
        Lives for the study's question.
    numbers : mapping of str to (n,) float
        Numeric covariates, as `numbers_of` returns them.
    settings : Settings
        Groups and confidence.
    """
    builds = np.unique(spells.build[spells.build != ""])
    groups = ("build",) if "build" in settings.groups.by and len(builds) > 1 else ()
    if not numbers and not groups:
        return None
    level = settings.study.confidence
    try:
        table = build_covariates(spells, numbers, groups=groups)
        regression = fit_accelerated(spells, table, level=level)
    except FitError as error:
        return Effects(
            regression=None,
            hazards=None,
            reason=str(error),
            no_hazards=str(error),
            sentence=f"No effects can be given. {error}",
        )
    hazards, no_hazards = None, ""
    if regression.treatment == "plain":
        try:
            hazards = fit_proportional(spells, table, level=level)
        except FitError as error:
            no_hazards = str(error)
    else:
        no_hazards = "Left out, as the effects are not fitted freely."
    return Effects(
        regression=regression,
        hazards=hazards,
        reason="",
        no_hazards=no_hazards,
        sentence=effects_sentence(regression),
        cautions=(*regression.cautions, *_check_cautions(regression, hazards)),
    )


def _check_cautions(r: Regression, hazards: Proportional | None) -> tuple[Caution, ...]:
    out = []
    bad = [f for f in r.factors if f.shape_p_value is not None and f.shape_p_value < SHOWN_P]
    if bad:
        out.append(
            caution(
                "mixed-builds/shape",
                value=", ".join(f"{f.name} p {f.shape_p_value:.3f}" for f in bad),
                limit=f"p {SHOWN_P:g}",
            )
        )
    if hazards is not None:
        moving = [
            h for h in hazards.ratios if h.proportional_p is not None and h.proportional_p < SHOWN_P
        ]
        if moving:
            out.append(
                caution(
                    "hazards-not-proportional",
                    value=", ".join(f"{h.name} p {h.proportional_p:.3f}" for h in moving),
                    limit=f"p {SHOWN_P:g}",
                )
            )
    return tuple(out)
