"""What may be claimed at given hours, with few failures or none, and what may not be said.

The Weibull shape cannot be learned from a handful of failures, so the bound is the worst over the
shapes that the records leave open. Beside it stand the bounds for assumed shapes, that under a
prior on the shape, and the one that assumes no shape and counts only engines that settle the hours.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from fleetstats.advice.doubts.assumed_hours import failure_high_as_read
from fleetstats.advice.doubts.prior_weight import weigh_prior
from fleetstats.advice.doubts.rate_rose import failure_high_since_rise, life_shown_h
from fleetstats.advice.equivalents import (
    exposure_past,
    failure_bound,
    hidden_to_break,
    hours_shown,
    life_equivalents,
    poisson_allowance,
    reporting_share,
    shape_grid,
)
from fleetstats.advice.judge import Judgement, claim_asked, judge_claim
from fleetstats.advice.left_out import say_left_out
from fleetstats.advice.looks.at_look import at_look, settings_at_look
from fleetstats.advice.looks.look import look_to_tell
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.tipping import count_hidden
from fleetstats.bands.in_use import ask_band, shapes_in_use
from fleetstats.bands.quantity import Quantity
from fleetstats.bands.shape_free import Settled
from fleetstats.chapters.claim.first_failures import weigh_first_failures
from fleetstats.chapters.claim.values import (
    HIDDEN_SHOWN,
    Claim,
    ClaimRow,
    ClaimSubset,
)
from fleetstats.chapters.claim.words import may_not_quote, may_quote
from fleetstats.core.gate import HOURS_ABOVE_0, PROBABILITY, TEXTS, gate
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.spells.asserted import Asserted
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import FIT, LIVES, SETTINGS, fit_of_lives
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.provisos import provisos_of

CURVE_POINTS = 80

__all__ = ["Claim", "ClaimRow", "ClaimSubset", "advise_claim", "claim_rows", "qualify_claim"]


def bound_no_shape(spells: Spells, hours: float, confidence: float) -> tuple[float, float] | None:
    """Return lives that settle R(hours) without a shape, and the bound from them alone.

    As in `bands/shape_free.py`. None if there are none.
    """
    settled = Settled.of_spells(spells)
    n = settled.n_settled(hours)
    if n <= 0.0:
        return None
    return n, float(settled.failure_high(np.array([hours]), confidence)[0])


def _row(spells: Spells, shape: float, hours: float, target: float, confidence: float) -> ClaimRow:
    r = spells.n_failed
    n = float(life_equivalents(spells, shape, hours)[0])
    high = float(failure_bound(n, poisson_allowance(r, confidence)))
    return ClaimRow(
        shape=float(shape),
        equivalents=n,
        failure_high=high,
        reliability_low=1.0 - high,
        shown_to_h=hours * hours_shown(n, poisson_allowance(r, confidence), target, shape=shape),
        failure_if_hidden=tuple(
            float(failure_bound(n, poisson_allowance(r + k, confidence))) for k in HIDDEN_SHOWN
        ),
        hidden_to_break=hidden_to_break(n, r, confidence, 1.0 - target),
        reporting_share=reporting_share(n, r, confidence, 1.0 - target),
    )


def claim_rows(
    spells: Spells, shapes: tuple[float, ...], *, hours: float, target: float, confidence: float
) -> tuple[tuple[ClaimRow, ...], ClaimRow]:
    """Return one row for each shape, and the worst row anywhere in their range."""
    grid = shape_grid(shapes)
    worst_at = float(grid[int(np.argmin(life_equivalents(spells, grid, hours)))])
    rows = [_row(spells, b, hours, target, confidence) for b in sorted(shapes)]
    listed = min(range(len(rows)), key=lambda i: rows[i].equivalents)
    rows[listed] = replace(rows[listed], least_favourable=True)
    worst = replace(_row(spells, worst_at, hours, target, confidence), least_favourable=True)
    return tuple(rows), worst


def _subsets(
    spells: Spells, settings: Settings, by: tuple[str, ...], hours: float, target: float
) -> tuple[ClaimSubset, ...]:
    out = []
    for group in [g for g in by if g in ("build", "source", "cause", "unit")]:
        labels = getattr(spells, group)
        names = np.unique(labels)
        if len(names) < 2:
            continue
        for name in names:
            part = spells.of_group(group, str(name))
            lives = Quoter.of(part, try_fit(part), settings)
            judged = judge_claim(lives, hours, target)
            shown = life_shown_h(lives, Quantity.life(1.0 - target))
            out.append(
                ClaimSubset(
                    group=group,
                    name=str(name) or "not stated",
                    n_lives=float(part.weight.sum()),
                    n_engines=round(part.n_engines),
                    n_failed=part.n_failed,
                    exposure_h=part.exposure_h,
                    n_reached=float(part.at_risk(hours)[0]),
                    failure_low=judged.failure_low,
                    failure_high=judged.failure_high,
                    failure_high_with_left_out=judged.failure_high_with_left_out,
                    n_left_out=judged.n_left_out,
                    shown_to_h=min(shown, judged.reach_h),
                    supported_h=judged.reach_h,
                    state=judged.word,
                    extrapolated=judged.extrapolated,
                )
            )
    return tuple(out)


def _hidden_to_turn(judged: Judgement, lives: Quoter) -> int | None:
    """Return the least unreported failures that turn a supported claim; None for any other."""
    if judged.word != "supported":
        return None
    return count_hidden(
        lives.spells,
        lives.fit,
        lives.settings,
        hours=judged.hours,
        accepted=1.0 - judged.target,
    ).least


def _curve(
    spells: Spells, shapes: tuple[float, ...], hours: float, confidence: float
) -> tuple[Array, Array, Array]:
    """Return ages, and the upper bound there for the least and most favourable shape."""
    top = max(spells.oldest_h, 1e-300)
    grid = shape_grid(shapes)
    rate = poisson_allowance(spells.n_failed, confidence) / life_equivalents(spells, grid, top)
    ages = np.linspace(0.0, 1.25 * max(top, hours), CURVE_POINTS + 1)[1:]
    bound = -np.expm1(-rate[None, :] * (ages[:, None] / top) ** grid[None, :])
    return ages, bound.max(axis=1), bound.min(axis=1)


@gate(
    spells=LIVES,
    settings=SETTINGS,
    hours=HOURS_ABOVE_0.or_none,
    reliability=PROBABILITY.or_none,
    by=TEXTS.or_none,
    fit=FIT.or_none,
)
def advise_claim(
    spells: Spells,
    settings: Settings,
    hours: float | None = None,
    reliability: float | None = None,
    *,
    by: tuple[str, ...] | None = None,
    fit: Fit | None = None,
    asserted: Asserted | None = None,
) -> Claim:
    """Return what the records support at the claimed hours, and what may be said about it.

    Parameters
    ----------
    spells : Spells
        Lives at risk for the study's question.
    settings : Settings
        Confidence, shapes, prior, targets.
    hours : float, optional
        Claimed hours; default the study's claimed interval.
    reliability : float, optional
        Share that should reach them without the failure; default 1 minus the study's accepted
        failure at the claim, else its target reliability.
    by : tuple of str, optional
        Columns that make subsets (``"build"``, ``"source"``); default the study's groups.
    fit : Fit, optional
        Weibull fit of the same spells; made here where it is not given and there is one.
    asserted : Asserted, optional
        What is asserted of these lives and what shows it, as `Built.asserted` has it.

    Returns
    -------
    Claim
        Verdict, bounds by shape, and sentences that may or may not be printed.

    Raises
    ------
    SettingError
        If no hours are given anywhere, or hours or reliability are impossible.

    Notes
    -----
    What is quoted is the one rule of `advice/quoted.py`: the worst over the shapes that the records
    leave open, or what the count of engines shows without a shape. Failures that the records leave
    out stand beside it, at the ages that they can have (`advice/left_out.py`).

    References
    ----------
    Nelson 1985, known-shape bounds; IEC 61649:2008; Clopper & Pearson 1934.

    Examples
    --------
    >>> import fleetstats as fs
    >>> study = fs.read_study("datasets/quiet-fleet")
    >>> records = fs.read_records(study)
    >>> lives = fs.build_spells(study, records, fs.audit_records(study, records)).spells
    >>> claim = fs.advise_claim(lives, study.settings, 1200.0)
    >>> claim.hours, claim.state
    (1200.0, 'supported')
    """
    hours, reliability = claim_asked(settings, hours, reliability)
    look, settings = look_to_tell(settings), settings_at_look(settings)
    fit = try_fit(spells) if fit is None else fit_of_lives(fit, spells)
    confidence = 0.5 * (1.0 + settings.study.confidence)
    shapes = shapes_in_use(spells, fit, settings)
    rows, worst = claim_rows(spells, shapes, hours=hours, target=reliability, confidence=confidence)
    what, life = Quantity.reliability(hours), Quantity.life(1.0 - reliability)
    lives = at_look(Quoter.of(spells, fit, settings), reliability)
    judged = judge_claim(lives, hours, reliability)
    shown, supported = life_shown_h(lives, life), judged.reach_h
    curve = _curve(spells, shapes, hours, confidence)
    by = settings.groups.by if by is None else by
    out = Claim(
        state=judged.word,
        because=judged.because,
        extrapolated=judged.extrapolated,
        hours=hours,
        target=reliability,
        confidence=confidence,
        n_lives=float(spells.weight.sum()),
        n_engines=round(spells.n_engines) if spells.engines_known else None,
        n_failed=spells.n_failed,
        exposure_h=spells.exposure_h,
        n_reached=float(spells.at_risk(hours)[0]),
        n_engines_reached=spells.engines_at_risk(hours),
        exposure_past_h=exposure_past(spells, hours),
        supported_h=supported,
        oldest_h=spells.oldest_h,
        rows=rows,
        worst=worst,
        no_shape=bound_no_shape(spells, hours, confidence),
        prior=ask_band(spells, fit, what, settings, method="shape-mixture"),
        chosen=ask_band(spells, fit, what, settings),
        failure_high=judged.failure_high,
        governed_by=judged.reliability.method,
        shown_to_h=min(shown, supported),
        shown_held_by_evidence=shown > supported,
        curve_hours=curve[0],
        curve_worst=curve[1],
        curve_best=curve[2],
        subsets=_subsets(spells, settings, by, hours, reliability),
        hidden_to_turn=_hidden_to_turn(judged, lives),
        failure_low=judged.failure_low,
        first=weigh_first_failures(spells, settings, hours=hours, accepted=1.0 - reliability),
        unlooked=asserted is not None and asserted.unlooked,
        may_quote="",
        may_not_quote="",
    )
    out = _with_doubts(replace(out, look=look), lives, judged)
    return replace(out, may_quote=may_quote(out, settings), may_not_quote=may_not_quote(out))


def qualify_claim(claim: Claim, settings: Settings, cautions: Iterable[Caution]) -> Claim:
    """Return a claim that says what `cautions` leave open about it."""
    qualified = replace(claim, provisos=provisos_of(cautions))
    return replace(qualified, may_quote=may_quote(qualified, settings))


def _with_doubts(claim: Claim, lives: Quoter, judged: Judgement) -> Claim:
    """Return a claim with what was assumed of its shape and hours, and what that does to it."""
    return replace(
        claim,
        failure_high_with_left_out=judged.failure_high_with_left_out,
        n_left_out=judged.n_left_out,
        left_out=say_left_out(lives.spells.left_out),
        refused=judged.refused,
        prior_weight=weigh_prior(lives, claim.hours),
        assumed_h=lives.spells.hours_assumed,
        failure_high_as_read=failure_high_as_read(lives, claim.hours),
        failure_high_since_rise=failure_high_since_rise(lives, claim.hours),
    )
