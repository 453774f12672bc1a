"""Builds and covariates, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.covariates.compute import advise_effects, advise_levels, numbers_of
from fleetstats.chapters.covariates.values import Effects
from fleetstats.core.value import Value


def chapter_effects(base: Base, _done: Mapping[str, Value]) -> Effects | None:
    """Return what builds, covariates and columns of words do to life.

    Raises
    ------
    SettingError
        If `categories.at` asks for what no life has.
    """
    rows, settings = base.built.rows, base.settings
    numbers = numbers_of(rows, settings.groups.covariates)
    if settings.categories.columns or settings.categories.at:
        return advise_levels(rows, base.spells, numbers, settings)
    return advise_effects(base.spells, numbers, base.settings)
