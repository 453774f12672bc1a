"""Five answers side by side, one overhaul band, one verdict: in place of a fixed TBO."""

from __future__ import annotations

from dataclasses import replace

from fleetstats.advice.advice import Advice, Verdict
from fleetstats.advice.cost.answer import advise_cost
from fleetstats.advice.horizon import advise_horizon
from fleetstats.advice.life import advise_life
from fleetstats.advice.mended import all_mended, mended_lives, mended_words
from fleetstats.advice.overhaul_band import advise_overhaul_band
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.risk import advise_risk
from fleetstats.advice.verdict import advise_verdict
from fleetstats.advice.wear_out import advise_wear_out
from fleetstats.core.errors import SettingError
from fleetstats.core.gate import FLAG, LEVEL, gate
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import FIT, LIVES, SETTINGS, fit_of_lives
from fleetstats.survival.weibull.fit_weibull import try_fit


@gate(
    spells=LIVES,
    fit=FIT.or_none,
    settings=SETTINGS,
    level=LEVEL.or_none,
    curves=FLAG,
    judged_by=SETTINGS.or_none,
)
def advise_hours(
    spells: Spells,
    fit: Fit | None,
    settings: Settings,
    *,
    level: float | None = None,
    curves: bool = True,
    judged_by: Settings | None = None,
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
        Whether what is only shown is worked out too, the cost by age and the ages for listed
        targets and shapes; an advice that is only compared needs none.
    judged_by : Settings, optional
        Settings by which the claim is judged, where the hours are worked out from fewer resamples;
        a verdict is the study's own whoever asks.

    Returns
    -------
    Advice
        Every part of it may say that the records cannot answer; that is an answer, not an error.

    Raises
    ------
    ArgumentError
        If an argument is not what it stands for, or the fit is one of other lives.
    SettingError
        If the fit is not a Weibull.

    Notes
    -----
    Where overhaul does not renew some cause (``question.not_renewed_causes``), the hours come from
    the failures that it mends alone; the verdict on the claim counts all.

    The rule from answers to band is the head of `advice/overhaul_band.py`; that of the verdict the
    head of `advice/judge.py`. Cautions are collected by `chapters/cautions/compute.py`.

    References
    ----------
    The rules are ours, at the heads named above; cost by age: Barlow & Proschan (1965),
    Mathematical Theory of Reliability, chapter 4.

    Examples
    --------
    >>> import fleetstats as fs
    >>> settings = fs.read_study("datasets/quiet-fleet").settings
    >>> lives = fs.Spells.of(0, [400, 650, 800, 900, 1100, 1200], [1, 0, 1, 0, 1, 0])
    >>> advice = fs.advise_hours(lives, fs.fit_weibull(lives), settings, curves=False)
    >>> advice.overhaul_band.state, advice.verdict.word
    ('not-enough-evidence', 'contradicted')
    """
    fit = fit_of_lives(fit, spells)
    if fit is not None and fit.family != "weibull":
        raise SettingError(
            f"Advice was asked from a {fit.family} fit.", "Give the Weibull fit of the spells."
        )
    if level is not None:
        settings = replace(settings, study=replace(settings.study, confidence=level))
    horizon = advise_horizon(spells, settings)
    own = Quoter.of(spells, fit, settings)
    verdict = advise_verdict(
        own if judged_by is None else Quoter.of(spells, fit, judged_by), horizon
    )
    aim = aimed_lives(own)
    mended = aim is not own
    h = horizon.supported_h
    wear_out = advise_wear_out(aim)
    risk = advise_risk(aim, h, listed=curves)
    reliability = advise_life(aim, h)
    cost = advise_cost(aim, wear_out, h, curves=curves)
    hours = Advice(
        level=settings.study.confidence,
        method="open-shapes and shape-mixture" if aim.few else aim.asked.method,
        n_failed=aim.spells.n_failed,
        wear_out=wear_out,
        risk=risk,
        reliability=reliability,
        cost=cost,
        horizon=horizon,
        overhaul_band=advise_overhaul_band(wear_out, risk, reliability, cost, horizon),
        verdict=verdict,
    )
    if not mended:
        return hours
    return _of_mended(hours, mended_words(aim.spells, spells), spells.n_failed, verdict)


def aimed_lives(lives: Quoter) -> Quoter:
    """Return the fleet that hours of overhaul count: with only the failures that overhaul mends.

    The fleet itself where overhaul mends every failure seen. No claim belongs to the other.
    """
    spells = mended_lives(lives.spells, lives.settings)
    if spells is None:
        return lives
    settings = all_mended(lives.settings)
    settings = replace(settings, study=replace(settings.study, claimed_interval_h=None))
    return Quoter.of(spells, try_fit(spells), settings)


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
