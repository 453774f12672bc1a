"""Builds and covariates, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from fleetstats.chapters.covariates.compute import advise_effects, numbers_of
from fleetstats.chapters.covariates.values import Effects
from fleetstats.core.value import Value

if TYPE_CHECKING:
    from fleetstats.advice.results import Results


def chapter_effects(base: Results, _done: Mapping[str, Value]) -> Effects | None:
    """Return what builds and covariates do to life."""
    numbers = numbers_of(base.built.rows, base.settings.groups.covariates)
    return advise_effects(base.spells, numbers, base.settings)
