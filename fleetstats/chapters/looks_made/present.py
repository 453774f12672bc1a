"""The look that a run is: what it asked of which records, and what it answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from fleetstats.advice.judge import accepted_failure
from fleetstats.advice.looks.look import information_of
from fleetstats.advice.results import Results
from fleetstats.bands.interval import Interval
from fleetstats.chapters.ahead import Forecast
from fleetstats.chapters.claim import Claim
from fleetstats.core.provenance import SourceFile
from fleetstats.spells import Spells
from fleetstats.study.history import LedgerLook, rounded, start_look
from fleetstats.study.settings import Settings
from fleetstats.study.study import Study

INFORMATION = "information"
"""Name under which a look keeps its information on the claim, for the rule on later looks."""


def begin_look(
    study: Study, sources: Sequence[SourceFile], verb: str, spells: Spells
) -> LedgerLook:
    """Return the look of a run before its answers: what was asked of which records.

    Parameters
    ----------
    study : Study
        With the hours that were asked as its claimed ones.
    sources : sequence of SourceFile
        Files read, with their digests; others of the study are digested here.
    verb : str
        What was run.
    spells : Spells
        The lives; their number, failures and hours are the first of the answers.
    """
    s = study.settings
    return start_look(
        study,
        verb,
        str(s.study.analysis_date or ""),
        sources=sources,
        asked=_asked(s),
        answers=_evidence(spells, s),
    )


def look_of_study(results: Results, report: str) -> LedgerLook:
    """Return the look of a whole study, with the number of its report."""
    a = results.advice
    b, v = a.overhaul_band, a.verdict
    begun = begin_look(results.study, results.records.sources, "study", results.spells)
    answers: dict[str, Any] = {
        **begun.answers,
        "evidence_ends_h": rounded(a.horizon.supported_h),
        "band": b.state,
        "plan_from_h": rounded(b.plan_from.hours),
        "expect_at_h": rounded(b.expect_at.hours),
        "not_beyond_h": rounded(b.not_beyond.hours),
        "lives_h": {x.name: _edges(x) for x in results.sureness.lives},
    }
    if v is not None:
        answers["failure_high"] = rounded(1.0 - (v.reliability.low or 0.0))
        answers["failure_low"] = rounded(1.0 - _or(v.reliability.high, 1.0))
    forecast = results.chapters.get("forecast")
    if isinstance(forecast, Forecast):
        answers["forecast"] = _forecast(forecast)
    answers["stop_rule"] = {
        "failures": results.settings.decision.stop_failures,
        "below_h": rounded(b.plan_from.hours),
    }
    return replace(begun, answers=answers, verdict="" if v is None else v.word, report=report)


def look_of_claim(
    study: Study, sources: Sequence[SourceFile], spells: Spells, claim: Claim
) -> LedgerLook:
    """Return the look of a claim that was asked alone, at its own hours and share."""
    s = study.settings
    asked = replace(
        s,
        study=replace(s.study, claimed_interval_h=claim.hours),
        targets=replace(s.targets, accepted_failure_at_claim=1.0 - claim.target),
    )
    begun = begin_look(replace(study, settings=asked), sources, "claim", spells)
    answers = {
        **begun.answers,
        "failure_high": rounded(claim.failure_high),
        "failure_low": rounded(claim.failure_low),
        "shown_to_h": rounded(claim.shown_to_h),
    }
    return replace(begun, answers=answers, verdict=claim.state)


def _asked(s: Settings) -> dict[str, Any]:
    hours = s.study.claimed_interval_h
    if hours is None:
        return {}
    return {"hours": rounded(hours), "reliability": rounded(1.0 - accepted_failure(s))}


def _evidence(spells: Spells, s: Settings) -> dict[str, Any]:
    hours = s.study.claimed_interval_h
    told = (
        {}
        if hours is None
        else {
            INFORMATION: rounded(
                information_of(spells, s, hours=hours, target=1.0 - accepted_failure(s))
            )
        }
    )
    return {
        **told,
        "lives": rounded(float(spells.weight.sum())),
        "failed": rounded(spells.n_failed),
        "exposure_h": rounded(spells.exposure_h),
    }


def _edges(x: Interval) -> list[float | None]:
    return [rounded(x.low), rounded(x.estimate), rounded(x.high)]


def _forecast(f: Forecast) -> dict[str, Any]:
    return {
        "span": f.span,
        "expected": rounded(f.failures.expected),
        "low": f.failures.low,
        "high": f.failures.high,
        "level": rounded(f.level),
        "alert": None if f.season is None else int(f.season.alert[-1]),
    }


def _or(x: float | None, otherwise: float) -> float:
    return otherwise if x is None else x
