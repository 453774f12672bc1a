"""Single chapters of a study, for the verbs that answer one question."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fleetstats.chapters.registry import CHAPTERS, needed_by
from fleetstats.core.value import Value
from fleetstats.records.reading import Records
from fleetstats.spells.build import Built
from fleetstats.spells.spells import Spells
from fleetstats.studies.analyse import fit_or_reason, read_lives_of
from fleetstats.study.settings import Settings
from fleetstats.study.study import Study
from fleetstats.survival.fit import Fit


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


def run_single(
    study: Study, keys: tuple[str, ...], stage: Callable[[str], None]
) -> dict[str, Value]:
    """Work out some chapters and what they need; their values by key, absent where there is none.

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
    for key in dict.fromkeys(k for asked in keys for k in needed_by(asked)):
        stage(CHAPTERS[key].stage)
        value = CHAPTERS[key].work_out(base, done)
        if value is not None:
            done[key] = value
    return done
