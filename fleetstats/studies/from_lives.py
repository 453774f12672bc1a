"""Advice, a claim judged and a plan, from lives alone: what a study file says in plain arguments.

Each sets the keys of the settings that its arguments stand for and asks the same function that a
study asks, so that the digits are those of a folder with the same lives and keys. The cautions that
lives alone call for are told; what only records can show (how they were audited, what they leave
out, how old the readings are) is no part of lives, and `analyse` has it.
"""

from __future__ import annotations

from dataclasses import replace

from fleetstats.advice.advice import Advice
from fleetstats.advice.advise import advise_hours
from fleetstats.advice.success_run import MOST_FAILURES
from fleetstats.advice.verdict import qualify_verdict
from fleetstats.chapters.cautions import collect_cautions
from fleetstats.chapters.claim import Claim, advise_claim, qualify_claim
from fleetstats.chapters.curve_fit import caution_curve
from fleetstats.chapters.plan import Plan, plan_evidence
from fleetstats.core.gate import HOURS_ABOVE_0, LEVEL, PROBABILITY, counted, gate
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import FIT, LIVES, SETTINGS, fit_of_lives
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.caution import Caution

ASKED = {
    "spells": LIVES,
    "claimed_h": HOURS_ABOVE_0.or_none,
    "accepted": PROBABILITY.or_none,
    "level": LEVEL.or_none,
    "settings": SETTINGS.or_none,
    "fit": FIT.or_none,
}
"""Kinds of the arguments that all three take."""


def _asked(
    settings: Settings | None,
    claimed_h: float | None,
    accepted: float | None,
    level: float | None,
) -> Settings:
    """Return settings with what was given in place of their own."""
    s = Settings() if settings is None else settings
    if claimed_h is not None:
        s = replace(s, study=replace(s.study, claimed_interval_h=claimed_h))
    if level is not None:
        s = replace(s, study=replace(s.study, confidence=level))
    if accepted is None:
        return s
    return replace(s, targets=replace(s.targets, accepted_failure_at_claim=accepted))


def _cautions(
    spells: Spells, fit: Fit | None, settings: Settings, advice: Advice
) -> tuple[Caution, ...]:
    found = collect_cautions(spells, fit, settings, advice)
    return (*found, *caution_curve(fit, settings))


@gate(**ASKED)
def advise(
    spells: Spells,
    *,
    claimed_h: float | None = None,
    accepted: float | None = None,
    level: float | None = None,
    settings: Settings | None = None,
    fit: Fit | None = None,
) -> Advice:
    """Return the advice on overhaul hours that these lives support, without a study's folder.

    Parameters
    ----------
    spells : Spells
        As ``fs.Spells.of(entry, exit, failed)`` makes them from arrays.
    claimed_h : float, optional
        Overhaul hours claimed or used today; the verdict is on them, and there is none without.
    accepted : float, optional
        Chance of the failure accepted by `claimed_h`; 1 minus the target reliability, 0.10, if not.
    level : float, optional
        Two-sided confidence; 0.90 if not.
    settings : Settings, optional
        Every other key, by `make_settings`; what is given here goes before it.
    fit : Fit, optional
        Weibull fit of the same lives; made here where it is not given and there is one.

    Returns
    -------
    Advice
        As `advise_hours` returns it, with the cautions that lives alone call for.

    Raises
    ------
    ArgumentError
        If an argument is not what it stands for, or the fit is one of other lives.

    References
    ----------
    As `advise_hours`.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(50, 1500, 10), False)
    >>> advice = fs.advise(lives, claimed_h=600, accepted=0.10)
    >>> advice.verdict.word, advice.overhaul_band.state
    ('supported', 'evidence-limit')
    """
    settings = _asked(settings, claimed_h, accepted, level)
    fit = try_fit(spells) if fit is None else fit_of_lives(fit, spells)
    advice = advise_hours(spells, fit, settings)
    cautions = _cautions(spells, fit, settings, advice)
    verdict = advice.verdict
    if verdict is not None:
        verdict = qualify_verdict(verdict, advice.horizon, cautions)
    return replace(advice, cautions=cautions, verdict=verdict)


@gate(**ASKED)
def claim(
    spells: Spells,
    claimed_h: float | None = None,
    *,
    accepted: float | None = None,
    level: float | None = None,
    settings: Settings | None = None,
    fit: Fit | None = None,
) -> Claim:
    """Return what these lives support at claimed hours, without a study's folder.

    Parameters
    ----------
    spells, claimed_h, accepted, level, settings, fit
        As for `advise`.

    Returns
    -------
    Claim
        As `advise_claim` returns it, with what the cautions of `advise` leave open about it.

    Raises
    ------
    SettingError
        If no hours are claimed here or in `settings`.

    References
    ----------
    As `advise_claim`.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(50, 1500, 10), False)
    >>> fs.claim(lives, 600, accepted=0.10).state
    'supported'
    """
    settings = _asked(settings, claimed_h, accepted, level)
    fit = try_fit(spells) if fit is None else fit_of_lives(fit, spells)
    told = advise_claim(spells, settings, fit=fit)
    advice = advise_hours(spells, fit, settings, curves=False)
    return qualify_claim(told, settings, _cautions(spells, fit, settings, advice))


@gate(
    **ASKED,
    failures=counted(0, MOST_FAILURES),
    engines=counted(1),
    run_to_h=HOURS_ABOVE_0.or_none,
)
def plan(
    spells: Spells,
    claimed_h: float | None = None,
    *,
    accepted: float | None = None,
    level: float | None = None,
    failures: int = 0,
    engines: int = 30,
    run_to_h: float | None = None,
    settings: Settings | None = None,
    fit: Fit | None = None,
) -> Plan:
    """Return what further running would show the claimed hours, without a study's folder.

    Parameters
    ----------
    spells, claimed_h, accepted, level, settings, fit
        As for `advise`.
    failures, engines, run_to_h
        As for `plan_evidence`.

    Returns
    -------
    Plan
        As `plan_evidence` returns it; without a fleet's yearly use it tells no dates.

    Raises
    ------
    SettingError
        If no hours are claimed here or in `settings`.

    References
    ----------
    As `plan_evidence`.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(50, 1500, 10), False)
    >>> fs.plan(lives, 1200, accepted=0.05).hours
    1200.0
    """
    return plan_evidence(
        spells,
        _asked(settings, claimed_h, accepted, level),
        failures=failures,
        engines=engines,
        run_to_h=run_to_h,
        fit=fit,
    )
