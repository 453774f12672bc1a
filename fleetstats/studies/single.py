"""Single chapters of a study, for the verbs that answer one question."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace

from fleetstats.advice.advice import Advice
from fleetstats.advice.advise import advise_hours
from fleetstats.chapters.cautions import collect_cautions
from fleetstats.chapters.failing import fail_chapter
from fleetstats.chapters.looks_made import with_looks_made
from fleetstats.chapters.plan import Plan
from fleetstats.chapters.registry import CHAPTERS, needed_by
from fleetstats.core.errors import SettingError
from fleetstats.core.pause import collection_paused
from fleetstats.core.stages import silent
from fleetstats.core.value import Value
from fleetstats.records.audit.finding import Audit
from fleetstats.records.reading import Records
from fleetstats.spells.build import Built
from fleetstats.spells.spells import Spells
from fleetstats.studies.analyse import read_lives_of
from fleetstats.studies.costs import say_costs, say_reading, stage_words
from fleetstats.studies.main_results import fit_or_reason
from fleetstats.study.settings import Settings
from fleetstats.study.study import Study
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.caution import Caution


@dataclass(frozen=True, slots=True, kw_only=True)
class LightBase:
    """What these chapters need of a study; `Results` holds the same and more."""

    study: Study
    records: Records
    built: Built
    fit: Fit | None
    audit: Audit
    chapters: Mapping[str, Value] = field(default_factory=dict)

    @property
    def spells(self) -> Spells:
        """Return the lives at risk."""
        return self.built.spells

    @property
    def settings(self) -> Settings:
        """Return the study's settings."""
        return self.study.settings

    def under(self, settings: Settings) -> LightBase:
        """Return the same lives under other settings; what was worked out of them stays."""
        return replace(self, study=replace(self.study, settings=settings))


def run_single(
    study: Study,
    keys: tuple[str, ...],
    stage: Callable[[str], None],
    tell: Callable[[str], None] = silent,
) -> dict[str, Value]:
    """Work out some chapters and what they need; their values by key, absent where there is none.

    `stage` is told the name of each stage as it begins; `tell`, before, how long the work takes
    where that is long.

    Raises
    ------
    RecordError
        If the audit stops the study, as `analyse` does.
    """
    if told := say_reading(study, by_chunks=False):
        tell(told)
    stage("reading the records")
    with collection_paused():
        base = read_base(study)
    asked = tuple(dict.fromkeys(k for key in keys for k in needed_by(key)))
    if told := say_costs(len(base.spells), asked):
        tell(told)
    return work_some(base, keys, stage)


def read_base(study: Study) -> LightBase:
    """Read a study's lives for single chapters; raises RecordError as `analyse` does."""
    return base_of(study, *read_lives_of(study))


def base_of(study: Study, records: Records, audit: Audit, built: Built) -> LightBase:
    """Return the base of single chapters from lives that are at hand."""
    study = with_looks_made(study, records.sources, built.spells)
    fit, _ = fit_or_reason(built.spells)
    return LightBase(study=study, records=records, built=built, fit=fit, audit=audit)


def work_some(
    base: LightBase, keys: Iterable[str], stage: Callable[[str], None] = silent
) -> dict[str, Value]:
    """Work out some chapters and what they need; values by key, absent where there is none."""
    done: dict[str, Value] = {}
    for key in dict.fromkeys(k for asked in keys for k in needed_by(asked)):
        stage(stage_words(key, len(base.spells)))
        value = CHAPTERS[key].work_out(base, done)
        if value is not None:
            done[key] = value
    return done


def plan_at(
    base: LightBase,
    *,
    hours: float | None = None,
    reliability: float | None = None,
    failures: int = 0,
    engines: int = 30,
    run_to_h: float | None = None,
) -> Plan:
    """Return what further evidence of a study's engines would show more; see `plan_evidence`."""
    import numpy as np

    from fleetstats.chapters.plan import plan_evidence

    return plan_evidence(
        base.spells,
        base.settings,
        hours=hours,
        reliability=reliability,
        failures=failures,
        engines=engines,
        run_to_h=run_to_h,
        running=np.array([r.ending == "running" for r in base.built.rows], dtype=bool),
        fit=base.fit,
    )


def cautions_at(
    base: LightBase,
    hours: float | None,
    plan: Plan | None = None,
    *,
    reliability: float | None = None,
    advice: Advice | None = None,
) -> tuple[Caution, ...]:
    """Return what qualifies an answer at `hours`, which stand in place of the claimed interval.

    Without hours the answer claims none. A `reliability` stands in place of the one that the study
    asks there.
    The chapters whose cautions may qualify a claim are asked too; one that cannot be worked out is
    a caution itself, as in a study. `advice` is that at these very hours and share, where it is at
    hand.
    """
    s = base.settings
    settings = replace(s, study=replace(s.study, claimed_interval_h=hours))
    if reliability is not None:
        asked = replace(s.targets, accepted_failure_at_claim=1.0 - reliability)
        settings = replace(settings, targets=asked)
    there = base.under(settings)
    told: list[Value] = []
    failed: list[Caution] = []
    for key in (k for k, c in CHAPTERS.items() if c.qualifies):
        try:
            told += [v for k, v in work_some(there, [key]).items() if CHAPTERS[k].qualifies]
        except SettingError:
            raise
        except Exception as error:
            failed.append(fail_chapter(CHAPTERS[key], error))
    if advice is None:
        advice = advise_hours(base.spells, base.fit, settings)
    found = collect_cautions(
        base.spells, base.fit, settings, advice, built=base.built, plan=plan, results=told
    )
    return (*found, *failed)
