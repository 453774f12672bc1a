"""Five answers side by side, one overhaul band, one verdict: in place of a fixed TBO."""

from __future__ import annotations

from dataclasses import replace

from fleetstats.advice.advice import Advice, Verdict
from fleetstats.advice.cost_answer import advise_cost
from fleetstats.advice.horizon import advise_horizon
from fleetstats.advice.life import advise_life
from fleetstats.advice.mended import all_mended, mended_lives, mended_words
from fleetstats.advice.overhaul_band import advise_overhaul_band
from fleetstats.advice.quoted import is_few, prepare
from fleetstats.advice.risk import advise_risk
from fleetstats.advice.tipping import try_fit
from fleetstats.advice.verdict import advise_verdict
from fleetstats.advice.wear_out import advise_wear_out
from fleetstats.core.errors import SettingError
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit


def advise_hours(
    spells: Spells,
    fit: Fit | None,
    settings: Settings,
    *,
    level: float | None = None,
    curves: bool = True,
) -> Advice:
    """Return the advice on overhaul hours that these lives support.

    Parameters
    ----------
    spells : Spells
        Lives at risk for the study's question.
    fit : Fit or None
        Weibull fit of the same spells; None where there is none (no failures, or no maximum).
    settings : Settings
        Targets, check interval, cost ratio, claim, confidence, seed.
    level : float, optional
        Two-sided confidence instead of the study's; each edge is one-sided at (1 + level) / 2.
    curves : bool
        Whether the cost by age is worked out too; an advice that is only compared needs none.

    Returns
    -------
    Advice
        Every part of it may say that the records cannot answer; that is an answer, not an error.

    Raises
    ------
    SettingError
        If the fit is not a Weibull, or the level is impossible.

    Notes
    -----
    Where overhaul does not renew some cause (``question.not_renewed_causes``), the hours come from
    the failures that it mends alone; the verdict on the claim counts all.

    The rule from answers to band is the head of `advice/overhaul_band.py`; that of the verdict the
    head of `advice/verdict.py`. Cautions are collected by `chapters/cautions/compute.py`.

    Examples
    --------
    >>> import fleetstats as fs
    >>> settings = fs.read_study("datasets/quiet-fleet").settings
    >>> lives = fs.Spells.of(0, [400, 650, 800, 900, 1100, 1200], [1, 0, 1, 0, 1, 0])
    >>> advice = fs.advise_hours(lives, fs.fit_weibull(lives), settings, curves=False)
    >>> advice.overhaul_band.state, advice.verdict.word
    ('not-enough-evidence', 'not-yet-shown')
    """
    if fit is not None and fit.family != "weibull":
        raise SettingError(
            f"Advice was asked from a {fit.family} fit.", "Give the Weibull fit of the spells."
        )
    if level is not None:
        if not 0.0 < level < 1.0:
            raise SettingError(f"Confidence level {level}.", "It must lie between 0 and 1.")
        settings = replace(settings, study=replace(settings.study, confidence=level))
    if spells.n_failed < 1:
        fit = None
    horizon = advise_horizon(spells, settings)
    wear_out = advise_wear_out(spells, fit, settings)
    verdict = advise_verdict(spells, fit, settings, wear_out, horizon)
    mended = mended_lives(spells, settings)
    if mended is not None:
        hours = advise_hours(
            mended,
            try_fit(mended),
            replace(all_mended(settings), study=replace(settings.study, claimed_interval_h=None)),
            curves=curves,
        )
        return _of_mended(hours, mended_words(mended, spells), spells.n_failed, verdict)
    risk = advise_risk(spells, fit, settings, horizon.supported_h)
    reliability = advise_life(spells, fit, settings, horizon.supported_h)
    cost = advise_cost(spells, fit, settings, wear_out, horizon.supported_h, curves=curves)
    few = is_few(spells, fit)
    return Advice(
        level=settings.study.confidence,
        method="given-shape and shape-mixture" if few else prepare(spells, fit, settings).method,
        n_failed=spells.n_failed,
        wear_out=wear_out,
        risk=risk,
        reliability=reliability,
        cost=cost,
        horizon=horizon,
        overhaul_band=advise_overhaul_band(wear_out, risk, reliability, cost, horizon),
        verdict=verdict,
    )


def _of_mended(hours: Advice, counted: str, n_failed: float, verdict: Verdict | None) -> Advice:
    """Return advice on hours from what overhaul mends, with the verdict on all failures."""

    def told(sentence: str) -> str:
        return f"{sentence} {counted}" if sentence else ""

    return replace(
        hours,
        n_failed=n_failed,
        n_mended=hours.n_failed,
        wear_out=replace(hours.wear_out, sentence=told(hours.wear_out.sentence)),
        risk=replace(hours.risk, sentence=told(hours.risk.sentence)),
        reliability=replace(hours.reliability, sentence=told(hours.reliability.sentence)),
        cost=replace(hours.cost, sentence=told(hours.cost.sentence)),
        overhaul_band=replace(
            hours.overhaul_band, sentence=told(hours.overhaul_band.sentence), counted=counted
        ),
        verdict=verdict,
    )
