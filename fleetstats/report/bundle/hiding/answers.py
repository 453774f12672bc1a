"""The answers of a study before and after coarsening, so that its effect on each can be told."""

from __future__ import annotations

import math

from fleetstats.advice.advise import advise_hours
from fleetstats.chapters.looks_made import with_looks_made
from fleetstats.records.reading import Records
from fleetstats.report.bundle.hiding.steps import nearest
from fleetstats.spells.build import Built
from fleetstats.studies.main_results import fit_or_reason
from fleetstats.study.origin import ANSWERS, AnswerTold
from fleetstats.study.study import Study

Answers = dict[str, float | str | None]
DECIMALS = 3
"""Decimals of a share that is told."""


def answers_of(study: Study, records: Records, built: Built) -> Answers:
    """Return a study's main answers: bound at the claim, band, horizon, oldest."""
    spells = built.spells
    asked = with_looks_made(study, records.sources, spells)
    advice = advise_hours(spells, fit_or_reason(spells)[0], asked.settings, curves=False)
    v, band = advice.verdict, advice.overhaul_band
    low, high = (None, None) if v is None else (v.reliability.low, v.reliability.high)
    return {
        "verdict": None if v is None else v.word,
        "failure_high": None if low is None else 1.0 - low,
        "failure_low": None if high is None else 1.0 - high,
        "plan_from_h": band.plan_from.hours,
        "expect_at_h": band.expect_at.hours,
        "not_beyond_h": band.not_beyond.hours,
        "supported_h": advice.horizon.supported_h,
        "oldest_h": advice.horizon.oldest_h,
        "exposure_h": float(spells.exposure_h),
        "failed": float(spells.n_failed),
    }


def compare_answers(at_home: Answers, here: Answers, step_h: int) -> tuple[AnswerTold, ...]:
    """Return answers side by side, hours of both to the step, so that none tells an engine's."""
    return tuple(
        AnswerTold(name=n, at_home=_told(n, at_home[n], step_h), here=_told(n, here[n], step_h))
        for n in ANSWERS
    )


def _told(name: str, x: float | str | None, step_h: int) -> float | str | None:
    if x is None or isinstance(x, str):
        return x
    if not math.isfinite(x):
        return None
    return nearest(x, step_h) if name.endswith("_h") else round(x, DECIMALS)
