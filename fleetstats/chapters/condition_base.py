"""Single chapters for the verbs that answer one question, without the rest of a study."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fleetstats.chapters.advice_chapters import chapter_hidden
from fleetstats.chapters.condition_chapters import (
    Base,
    chapter_backtest,
    chapter_bench,
    chapter_check_interval,
    chapter_condition,
    chapter_forecast,
    chapter_outlook,
    chapter_trends,
)
from fleetstats.chapters.pooled_chapters import (
    chapter_causes,
    chapter_pooling,
    chapter_recurrence,
)
from fleetstats.core.value import Value
from fleetstats.records.reading import Records
from fleetstats.spells.build import Built
from fleetstats.spells.spells import Spells
from fleetstats.studies.analyse import fit_or_reason, read_lives_of
from fleetstats.study.settings import Settings
from fleetstats.study.study import Study
from fleetstats.survival.fit import Fit

RUNS: dict[str, Callable[[Base, dict[str, Value]], Value | None]] = {
    "condition": chapter_condition,
    "check-interval": chapter_check_interval,
    "trends": chapter_trends,
    "outlook": chapter_outlook,
    "forecast": chapter_forecast,
    "backtest": chapter_backtest,
    "bench": chapter_bench,
    "pooling": chapter_pooling,
    "causes": chapter_causes,
    "hidden": chapter_hidden,
    "recurrence": chapter_recurrence,
}
"""Chapters that a verb can run by itself, by the keys of `chapters/chapters.py`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LightBase:
    """What these chapters need of a study; `Results` holds the same and more."""

    study: Study
    records: Records
    built: Built
    fit: Fit | None

    @property
    def spells(self) -> Spells:
        """Return the lives at risk."""
        return self.built.spells

    @property
    def settings(self) -> Settings:
        """Return the study's settings."""
        return self.study.settings


def run_condition(
    study: Study, keys: tuple[str, ...], stage: Callable[[str], None]
) -> dict[str, Value]:
    """Run some chapters in order, and return their values by key; absent where there is none.

    Raises
    ------
    RecordError
        If the audit stops the study, as `analyse` does.
    """
    stage("reading the records")
    records, _, built = read_lives_of(study)
    fit, _ = fit_or_reason(built.spells)
    base = LightBase(study=study, records=records, built=built, fit=fit)
    done: dict[str, Value] = {}
    for key in keys:
        stage(key)
        value = RUNS[key](base, done)
        if value is not None:
            done[key] = value
    return done
