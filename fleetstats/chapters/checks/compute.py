"""Are the checks frequent enough? The share of faults that fail before a check finds them."""

from __future__ import annotations

import dataclasses

import numpy as np

from fleetstats.bands.interval import Interval
from fleetstats.chapters.checks.curves import draw_curves, grid_hours, plan_longest
from fleetstats.chapters.checks.laws import bound_unseen, compare_laws, doubt_law
from fleetstats.chapters.checks.values import CheckInterval, ModeLine
from fleetstats.chapters.checks.words import (
    interval_sentences,
    laws_sentences,
    longest_sentence,
    no_fault_sentences,
    verdict_sentence,
)
from fleetstats.core.units import text_number
from fleetstats.study.settings import Settings
from fleetstats.survival.delay.delay import CheckLives
from fleetstats.survival.delay.delay_fit import doubt_steady, fit_delay, typical_gap_h
from fleetstats.survival.delay.delay_fitted import DelayFit
from fleetstats.survival.delay.delay_likelihood import Prepared, prepare_delay
from fleetstats.survival.delay.delay_profile import DelayPrior
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.limits import CONTRADICTED_P, FEW_FAULTS, FEW_FAULTS_OF_MODE
from fleetstats.vocabulary.unknown import cause_known
from fleetstats.vocabulary.wording import chance, count, listed, stated


def advise_check_interval(lives: CheckLives, settings: Settings) -> CheckInterval:
    """Judge the usual check interval, and say how long it might be.

    Parameters
    ----------
    lives : CheckLives
        All lives under checks; modes named undetectable in ``[check]``, and causes that are not in
        question, are set apart here.
    settings : Settings
        Tables check, delay, targets, study.

    Returns
    -------
    CheckInterval
        With verdict ``"not-enough-evidence"`` where no fault was seen.
    """
    level = settings.study.confidence
    blind = _blind(settings)
    seen = {str(m) for m in np.unique(lives.mode[lives.ending != 0])}
    seeing = lives.of_modes({m for m in seen if fold(m) not in blind and _asked(m, settings)})
    common: dict[str, object] = {
        "usual_h": settings.check.interval_h,
        "made_h": typical_gap_h(lives),
        "level": level,
        "n_lives": len(lives),
        "n_found": seeing.n_found,
        "n_failed": seeing.n_failed,
        "n_assumed": int(lives.assumed.sum()),
        "exposure_h": lives.exposure_h,
    }
    if seeing.n_found + seeing.n_failed == 0:
        return _no_faults(lives, settings, common)
    at = _detections(settings)
    prior = _prior(settings)
    pre = prepare_delay(seeing, detection_low=at[0])
    fits = _fits(seeing, pre, at, prior, settings)
    out = draw_curves(fits, grid_hours(settings), settings)
    modes = _modes(lives, blind, settings)
    longest = tuple(plan_longest(fits, settings))
    doubt: tuple[float | None, float | None] = (None, None)
    if settings.delay.arrival == "steady":
        doubt = doubt_steady(pre, fits[1])
    table_h = np.array(settings.delay.intervals_h)
    answer = CheckInterval(
        **common,  # type: ignore[arg-type]
        **out,  # type: ignore[arg-type]
        verdict="",
        sentences=(),
        identified=seeing.n_failed >= FEW_FAULTS and seeing.n_found > 0,
        detection=at,
        detection_deviance=tuple(
            2.0 * (max(f.log_likelihood for f in fits) - f.log_likelihood) for f in fits
        ),
        table_h=table_h,
        slip_by_detection=np.stack([f.slip(table_h) for f in fits]),
        longest=longest,
        modes=modes,
        cautions=_cautions(seeing, modes, prior, settings),
        steady_p=doubt[0],
        faults_shape=doubt[1],
        laws=compare_laws(fits, settings),
        unseen_share=bound_unseen(fits, level),
        fits=fits,
    )
    answer = dataclasses.replace(
        answer, cautions=(*_unsteady(answer), *doubt_law(fits, answer), *answer.cautions)
    )
    verdict = _verdict(answer, settings)
    words = (
        verdict_sentence(verdict, answer),
        *interval_sentences(answer),
        *laws_sentences(answer),
        *(longest_sentence(x, answer) for x in longest if x.stated),
    )
    return dataclasses.replace(answer, verdict=verdict, sentences=words)


def _fits(
    seeing: CheckLives,
    pre: Prepared,
    at: tuple[float, ...],
    prior: DelayPrior | None,
    settings: Settings,
) -> tuple[DelayFit, ...]:
    """Return one fit for each stated chance that a check finds a fault."""
    return tuple(
        fit_delay(
            seeing,
            detection=d,
            arrival=settings.delay.arrival,
            delay=settings.delay.delay,
            prior=prior,
            prepared=pre,
            at_h=_judged_age(seeing, settings),
        )
        for d in at
    )


def _judged_age(lives: CheckLives, settings: Settings) -> float | None:
    """Return the age at which a rate that changes is judged: the claimed hours, if they are seen.

    A mean from new to the oldest would flatter the engines that the checks are there for.
    """
    if settings.delay.arrival != "weibull":
        return None
    claimed = settings.study.claimed_interval_h
    return lives.oldest_h if claimed is None else min(claimed, lives.oldest_h)


def _unsteady(answer: CheckInterval) -> tuple[Caution, ...]:
    if not answer.flatters_old or answer.steady_p is None or answer.faults_shape is None:
        return ()
    return (
        caution(
            "steady-faults",
            value=f"chance of this at a steady rate: {chance(answer.steady_p)}",
            limit=stated(CONTRADICTED_P),
            shape=text_number(answer.faults_shape, digits=2),
        ),
    )


def _detections(settings: Settings) -> tuple[float, float, float]:
    d = settings.delay
    mid = settings.check.detection
    return min(d.detection_low, mid), mid, max(d.detection_high, mid)


def _prior(settings: Settings) -> DelayPrior | None:
    d = settings.delay
    if d.prior_mean_h is None:
        return None
    return DelayPrior(median_h=d.prior_mean_h, log_sd=d.prior_log_sd, source=d.prior_source)


def _verdict(answer: CheckInterval, settings: Settings) -> str:
    stated = [x for x in answer.longest if x.stated]
    if not stated:
        return "no-target"
    usual, words = settings.check.interval_h, []
    for x in stated:
        low, high = x.hours.low, x.hours.high
        if low is None or low >= usual:
            mean = x.what.startswith("chance") and answer.flatters_old
            words.append("not-yet-shown" if mean else "supported")
        elif high is not None and high < usual:
            words.append("contradicted")
        else:
            words.append("not-yet-shown")
    return next(w for w in ("contradicted", "not-yet-shown", "supported") if w in words)


def _blind(settings: Settings) -> dict[str, str]:
    """Return the modes that checks cannot see, by their folded form."""
    return {fold(c): c for c in settings.check.undetectable_causes}


def _asked(mode: str, settings: Settings) -> bool:
    """Return whether a mode is in question; one that is not stated may be any."""
    causes = {fold(c) for c in settings.question.causes}
    return not cause_known(mode) or not causes or fold(mode) in causes


def _modes(lives: CheckLives, blind: dict[str, str], settings: Settings) -> tuple[ModeLine, ...]:
    out = []
    usual = np.array([settings.check.interval_h])
    seen = {str(m) for m in lives.mode[lives.ending != 0]}
    told = {fold(m) for m in seen}
    modes = sorted(seen | {c for word, c in blind.items() if word not in told}, key=fold)
    for mode in modes:
        mine = lives.of_modes({mode})
        found, failed = mine.n_found, mine.n_failed
        slip = None
        asked = _asked(mode, settings)
        if (
            asked
            and fold(mode) not in blind
            and found
            and found + failed >= FEW_FAULTS_OF_MODE
            and len(modes) > 1
        ):
            # At today's interval the laws of the warning time say the same: one is enough.
            fit = fit_delay(
                mine,
                detection=settings.check.detection,
                delay="exponential",
                prior=_prior(settings),
                grid=12,
            )
            low, high = fit.slip_limits(usual, settings.study.confidence)
            slip = Interval(
                name=f"slip share, {mode}",
                estimate=float(fit.slip(usual)[0]),
                low=float(low[0]),
                high=float(high[0]),
                level=settings.study.confidence,
                method="profile",
                unit="probability",
            )
        word = "no" if fold(mode) in blind else "yes" if found else "never found"
        word = word if asked else "not in question"
        out.append(
            ModeLine(
                mode=mode or "not stated",
                detectable=word,
                n_found=found,
                n_failed=failed,
                slip=slip,
            )
        )
    return tuple(out)


def _cautions(
    seeing: CheckLives, modes: tuple[ModeLine, ...], prior: DelayPrior | None, settings: Settings
) -> tuple[Caution, ...]:
    out = []
    if seeing.n_failed < FEW_FAULTS:
        out.append(
            caution("few-failures/faults", value=f"{seeing.n_failed} failed", limit=f"{FEW_FAULTS}")
        )
    uncovered = [m for m in modes if m.detectable == "no"]
    uncovered += [m for m in modes if m.detectable == "never found" and m.n_failed]
    if uncovered:
        out.append(
            caution(
                "no-warning-mode/seen",
                value=count(sum(m.n_failed for m in uncovered), "failure"),
                modes=listed([m.mode for m in uncovered]),
            )
        )
    if prior is not None:
        out.append(
            caution(
                "prior-driven/warning-time",
                median_h=prior.median_h,
                log_sd=prior.log_sd,
                source=prior.source or "not said",
            )
        )
    if seeing.assumed.any():
        out.append(
            caution(
                "checks-assumed",
                value=f"{int(seeing.assumed.sum())} of {len(seeing)} lives",
                limit=f"assumed each {settings.check.interval_h:g} h",
            )
        )
    return tuple(out)


def _no_faults(lives: CheckLives, settings: Settings, common: dict[str, object]) -> CheckInterval:
    """Answer without a fault: only the rate of faults has an upper limit (exact Poisson)."""
    from scipy.special import chdtri

    level = settings.study.confidence
    one_sided = (1.0 + level) / 2.0
    high = None
    if lives.exposure_h > 0:
        high = 1000.0 * float(chdtri(2, 1.0 - one_sided)) / 2.0 / lives.exposure_h
    modes = _modes(lives, _blind(settings), settings)
    seeing = lives.of_modes(set())
    return CheckInterval(
        **common,  # type: ignore[arg-type]
        verdict="not-enough-evidence",
        sentences=no_fault_sentences(lives.exposure_h, high, one_sided),
        identified=False,
        rate_high_per_1000_h=high,
        modes=modes,
        cautions=_cautions(seeing, modes, None, settings),
    )
