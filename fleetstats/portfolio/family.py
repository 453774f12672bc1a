"""One family of a portfolio: its fit, bands, advice and last year, as one row."""

from __future__ import annotations

from fleetstats.advice.advice import Advice
from fleetstats.advice.advise import advise_hours
from fleetstats.bands.interval import Interval
from fleetstats.chapters.cautions import collect_cautions
from fleetstats.core.errors import FleetstatsError, SettingError
from fleetstats.core.value import Value, value
from fleetstats.portfolio.years import YearComparison, compare_years
from fleetstats.records.audit.finding import Audit
from fleetstats.records.split_families import Family
from fleetstats.spells.build import Built
from fleetstats.studies.analyse import read_lives_of
from fleetstats.studies.main_results import fit_or_reason
from fleetstats.study.study import Study
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.provisos import provisos_of

DONE, STOPPED, FAILED = "done", "stopped", "failed"
"""States of a family: answered (even if with "not enough evidence"), stopped by its records or its
study file, or given up over an error of the program or the machine."""

MOST_MESSAGE = 2_000
"""Longest reason kept; the audit of one bad family can list thousands of rows."""


@value
class FamilyRow(Value):
    """What a portfolio says of one family. All hours are on the study's clock and life basis.

    Parameters
    ----------
    family, slug, digest : str
        As in `records.portfolio.Family`.
    state : str
        ``"done"``, ``"stopped"`` or ``"failed"``; then `message` says why, and the rest is empty.
    n_read, n_used, n_set_aside : int
        Rows: read = used + set aside.
    n_lives, n_failed, exposure_h, oldest_h : float
        Lives at risk, failures in question, hours at risk, greatest age seen.
    supported_h : float
        The evidence horizon.
    no_fit : str
        Why no Weibull was fitted; empty where one was.
    shape, life : Interval or None
        With their bands; the life is that which the target share reaches.
    claimed_h : float or None
    at_claim, at_claim_with_left_out : Interval or None
        Reliability at the claimed hours, and its lower edge with failures that no life counts.
    n_left_out : int
        Failures that stand in the records and in no life; each answer is no better than with them.
    verdict : str
        On the claim; empty where there is none.
    band_state : str
        State of the overhaul band.
    plan_from_h, expect_at_h, not_beyond_h : float or None
    sentence : str
        The overhaul band in words.
    provisos : tuple of str
        What is open about a supported claim, as far as its own row knows; its report knows more.
    year : YearComparison or None
    """

    family: str
    slug: str
    digest: str
    state: str
    message: str = ""
    title: str = ""
    n_read: int = 0
    n_used: int = 0
    n_set_aside: int = 0
    n_lives: float = 0.0
    n_failed: float = 0.0
    exposure_h: float = 0.0
    oldest_h: float = 0.0
    supported_h: float = 0.0
    no_fit: str = ""
    shape: Interval | None = None
    life: Interval | None = None
    claimed_h: float | None = None
    at_claim: Interval | None = None
    at_claim_with_left_out: Interval | None = None
    n_left_out: int = 0
    verdict: str = ""
    band_state: str = ""
    plan_from_h: float | None = None
    expect_at_h: float | None = None
    not_beyond_h: float | None = None
    sentence: str = ""
    provisos: tuple[str, ...] = ()
    year: YearComparison | None = None

    @property
    def done(self) -> bool:
        """Return whether the family was answered."""
        return self.state == DONE


def advise_family(family: Family) -> FamilyRow:
    """Return a family's row; whatever goes wrong becomes a row that says so.

    Parameters
    ----------
    family : Family
        With its tables, or files that this process can read.
    """
    try:
        return _advise(family)
    except FleetstatsError as e:
        return _without_answer(family, STOPPED, str(e))
    except MemoryError:
        return _without_answer(
            family, FAILED, "There was not enough memory for it; use fewer --workers."
        )
    except Exception as e:
        # One family of thousands must not stop the rest, whatever is wrong with it.
        return _without_answer(family, FAILED, f"{type(e).__name__}: {e}")


def lose_family(family: Family) -> FamilyRow:
    """Return the row of a family that took its worker with it each time it was tried."""
    return _without_answer(
        family, FAILED, "The worker ended without an answer; it may need more memory than there is."
    )


def _without_answer(family: Family, state: str, message: str) -> FamilyRow:
    if len(message) > MOST_MESSAGE:
        message = f"{message[:MOST_MESSAGE]} … ({len(message):,} characters in all)"
    return FamilyRow(
        family=family.name, slug=family.slug, digest=family.digest, state=state, message=message
    )


def _advise(family: Family) -> FamilyRow:
    study = family.study
    if study is None:
        raise SettingError(family.problem)
    _, audit, built = read_lives_of(study, opened=family.opened)
    return _row(family, audit, built)


def _open(study: Study, built: Built, fit: Fit | None, advice: Advice) -> tuple[str, ...]:
    """Return what is open about a supported claim, as far as a family's own row knows it."""
    if advice.verdict is None or advice.verdict.word != "supported":
        return ()
    found = collect_cautions(built.spells, fit, study.settings, advice, built=built)
    return provisos_of(found)


def _row(family: Family, audit: Audit, built: Built) -> FamilyRow:
    assert family.study is not None
    settings = family.study.settings
    spells = built.spells
    fit, no_fit = fit_or_reason(spells)
    advice = advise_hours(spells, fit, settings)
    claim = settings.study.claimed_interval_h
    band = advice.overhaul_band
    return FamilyRow(
        family=family.name,
        slug=family.slug,
        digest=family.digest,
        state=DONE,
        title=settings.study.title,
        n_read=audit.n_read,
        n_used=audit.n_used,
        n_set_aside=audit.n_set_aside,
        n_lives=float(spells.weight.sum()),
        n_failed=spells.n_failed,
        exposure_h=spells.exposure_h,
        oldest_h=spells.oldest_h,
        supported_h=advice.horizon.supported_h,
        no_fit=no_fit,
        shape=advice.wear_out.shape,
        life=advice.reliability.life,
        claimed_h=claim,
        at_claim=None if advice.verdict is None else advice.verdict.reliability,
        at_claim_with_left_out=(None if advice.verdict is None else advice.verdict.with_left_out),
        n_left_out=spells.n_left_out,
        verdict=advice.verdict.word if advice.verdict is not None else "",
        band_state=band.state,
        plan_from_h=band.plan_from.hours,
        expect_at_h=band.expect_at.hours,
        not_beyond_h=band.not_beyond.hours,
        sentence=band.sentence,
        provisos=_open(family.study, built, fit, advice),
        year=compare_years(built.rows, spells, fit, settings),
    )
