"""Causes, pooling, covariates, growth and recurrent events, as chapters of a study."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from fleetstats.chapters.causes.compute import Causes, advise_causes
from fleetstats.chapters.covariates.compute import Effects, advise_effects, numbers_of
from fleetstats.chapters.groups.compute import Pooled, advise_pooling
from fleetstats.chapters.growth.compute import Growth, advise_growth
from fleetstats.chapters.recurrence.ahead import hours_ahead
from fleetstats.chapters.recurrence.compute import Recurrence, advise_recurrence
from fleetstats.core.value import Value
from fleetstats.spells.recurrent import build_histories

if TYPE_CHECKING:
    from fleetstats.advice.results import Results
    from fleetstats.chapters.condition_chapters import Base


def chapter_causes(base: Base, _done: Mapping[str, Value]) -> Causes | None:
    """Return what each cause does, and what an overhaul can mend of it."""
    return advise_causes(base.spells, base.settings)


def chapter_pooling(base: Base, _done: Mapping[str, Value]) -> Pooled | None:
    """Return whether sources and builds may be taken together, and who carries the answer."""
    return advise_pooling(base.spells, base.settings)


def chapter_effects(base: Results, _done: Mapping[str, Value]) -> Effects | None:
    """Return what builds and covariates do to life."""
    numbers = numbers_of(base.built.rows, base.settings.groups.covariates)
    return advise_effects(base.spells, numbers, base.settings)


def chapter_growth(base: Results, _done: Mapping[str, Value]) -> Growth | None:
    """Return whether failures grew rarer over the calendar."""
    return advise_growth(base.spells, base.built.rows, base.settings)


def chapter_recurrence(base: Base, _done: Mapping[str, Value]) -> Recurrence | None:
    """Return events that recur, from the study's logs; None without a log."""
    if not base.study.of_shape("log"):
        return None
    histories = build_histories(base.records, base.settings).histories
    ahead = hours_ahead(base.built.rows, base.settings)
    return advise_recurrence(histories, base.settings, hours_ahead=ahead)
