"""Answer (d): the cheapest age for planned overhaul, with what keeps it from being advice alone.

The optimum of a fitted curve hides how flat the cost is and how unsure the curve is. So the answer
carries the ages within 5 % of the least cost, a band from resampling, the share of resamples
without any optimum, the mean regret of each candidate age, and the chance of failing before it: the
cheapest age is not the safest.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fleetstats.advice.advice import CostAnswer, WearOut
from fleetstats.advice.cost.rates import (
    ages_of_use,
    cost_rate,
    flat_range,
    has_practical_optimum,
    mean_regret,
    optimum_age,
)
from fleetstats.advice.left_out import placed_fleets, say_counted
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.wear_out import weigh_shape
from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.bands.resampling.refit import refit_once
from fleetstats.core.kept import kept
from fleetstats.core.units import ADVICE_STEP_H, text_percent
from fleetstats.core.value import Array, frozen_array
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.limits import FEW_FOR_SHAPE
from fleetstats.vocabulary.wording import at_most, failures_told, hours_down, hours_near

CURVE_POINTS = 120
MOST_CANDIDATES = 60


def _refused(state: str, sentence: str, settings: Settings) -> CostAnswer:
    return CostAnswer(
        state=state, sentence=sentence, ratio=settings.cost.ratio, currency=settings.cost.currency
    )


def advise_cost(
    lives: Quoter,
    wear_out: WearOut,
    supported_h: float,
    *,
    curves: bool = True,
) -> CostAnswer:
    """Return the age-replacement optimum with its band, or why there is none.

    Parameters
    ----------
    lives : Quoter
        The fleet, with the study's cost ratio, resamples, seed and confidence.
    wear_out : WearOut
        Answer (a): the optimum is refused where its shape's band reaches 1.
    supported_h : float
        Evidence horizon in hours.
    curves : bool
        Whether the cost by age and the regret of each age are worked out too.

    References
    ----------
    Barlow & Proschan 1965, ch. 4. Resampling with random weights: Xu, Gotwalt, Hong, King & Meeker
    2020.
    """
    answer = least_cost(lives, wear_out, supported_h)
    if answer.state != "answered":
        return answer
    return _with_account(answer, lives, supported_h, curves=curves)


def least_cost(lives: Quoter, wear_out: WearOut, supported_h: float) -> CostAnswer:
    """Return the age of least cost with its band alone, or why there is none; as `advise_cost`.

    The lower edge is no later than with the failures that the records leave out.
    """
    out = _least_cost(lives, wear_out.state, supported_h)
    if out.state != "answered" or out.optimum is None:
        return out
    placed = (_least_cost(p, weigh_shape(p)[0], supported_h) for p in placed_fleets(lives))
    lows = [x.optimum.low for x in (out, *placed) if x.optimum is not None]
    known = [low for low in lows if low is not None]
    if not known or out.optimum.low == min(known):
        return out
    return replace(out, optimum=replace(out.optimum, low=min(known), note_low=""))


def _least_cost(lives: Quoter, wear_out: str, supported_h: float) -> CostAnswer:
    fit, settings = lives.fit, lives.settings
    ratio = settings.cost.ratio
    if ratio is None:
        return _refused(
            "no-cost-ratio",
            "The study states no cost of a failure over that of a planned overhaul (cost.ratio), "
            "so no cheapest age is worked out.",
            settings,
        )
    if fit is None or lives.few:
        seen = failures_told(lives.spells.n_failed, lives.spells.n_left_out)
        return _refused(
            "too-few-failures",
            f"A cheapest age is not worked out from {seen.rstrip(',')}: at least "
            f"{FEW_FOR_SHAPE} are needed.",
            settings,
        )
    if wear_out != "wear-out":
        return _refused(
            "shape-reaches-one",
            "A cheapest age is not worked out, because the band of the shape reaches 1: on these "
            "records running on may cost no more than any planned overhaul.",
            settings,
        )
    if not bool(has_practical_optimum(fit.shape, ratio)):
        return _refused(
            "no-finite-optimum",
            f"There is no finite optimum: at a cost ratio of {ratio:g} and this shape, planned "
            "overhaul at any age costs no less than running on.",
            settings,
        )
    level = settings.study.confidence
    best = float(optimum_age(fit.shape, fit.scale_h, ratio))
    ages = _resampled_ages(lives.spells, settings, ratio)
    tail = 0.5 * (1.0 - level)
    # draws without an optimum count as later than all others
    low, high = (float(x) for x in np.quantile(ages, [tail, 1.0 - tail], method="inverted_cdf"))
    optimum = Interval(
        name="age of least cost",
        estimate=best,
        low=low if np.isfinite(low) else None,
        high=high if np.isfinite(high) else None,
        level=level,
        method="weights-percentile",
        unit="h",
        note_high="" if np.isfinite(high) else "resamples without an optimum set no upper limit",
        note_low="" if np.isfinite(low) else "resamples without an optimum set no lower limit",
    )
    return CostAnswer(
        state="answered",
        sentence="",
        ratio=ratio,
        currency=settings.cost.currency,
        optimum=optimum,
        share_without=float(np.mean(np.isinf(ages))),
        extrapolated=best > supported_h,
    )


def _resamples(spells: Spells, settings: Settings) -> tuple[Array, Array]:
    """Return (B,) shapes and scales of the refits that have a maximum; drawn once for a fleet."""
    n, seed = settings.evidence.resamples, settings.study.seed
    draws = refit_once(spells, n, seed=seed)
    return draws.shape[draws.converged], draws.scale_h[draws.converged]


def _resampled_ages(spells: Spells, settings: Settings, ratio: float) -> Array:
    """Return (B,) the age of least cost of each refit, ``inf`` where it has none; found once."""

    def work() -> Array:
        shapes, scales = _resamples(spells, settings)
        return frozen_array(ages_of_use(shapes, scales, ratio))

    n, seed = settings.evidence.resamples, settings.study.seed
    return kept(spells, ("ages of least cost", n, seed, ratio), work)


def _with_account(
    answer: CostAnswer, lives: Quoter, supported_h: float, *, curves: bool
) -> CostAnswer:
    """Return an optimum with what stands beside it: flat range, chance of failing, cost by age."""
    spells, fit, settings = lives.spells, lives.fit, lives.settings
    level, ratio, o = settings.study.confidence, answer.ratio, answer.optimum
    assert fit is not None
    assert ratio is not None
    assert o is not None
    assert o.estimate is not None
    best = o.estimate
    shape, scale = fit.shape, fit.scale_h
    shapes, scales = _resamples(spells, settings)
    flat_low, flat_high = flat_range(shape, scale, ratio)
    at_best = lives.interval(Quantity.reliability(best))
    failure = Interval(
        name="chance of failing before the age of least cost",
        estimate=None if at_best.estimate is None else 1.0 - at_best.estimate,
        low=None if at_best.high is None else 1.0 - at_best.high,
        high=None if at_best.low is None else 1.0 - at_best.low,
        level=level,
        method=at_best.method,
        unit="probability",
        note_low=at_best.note_high,
        note_high=at_best.note_low,
    )
    least = float(cost_rate(best, shape, scale, ratio))
    run = float(cost_rate(np.inf, shape, scale, ratio))
    answer = replace(
        answer,
        flat_low_h=flat_low,
        flat_high_h=None if np.isinf(flat_high) else flat_high,
        failure_at_optimum=failure,
        saving=1.0 - least / run,
    )
    text = _sentence(answer, supported_h)
    if spells.left_out:
        text += f" {say_counted(spells.left_out)}"
    answer = replace(answer, sentence=text)
    if not curves:
        return answer
    hours = np.geomspace(0.25 * best, max(3.0 * best, supported_h), CURVE_POINTS)
    unit = 1000.0 * settings.cost.planned
    tail = 0.5 * (1.0 - level)
    edges = [unit * _cost_quantiles(t, shapes, scales, ratio, tail) for t in hours]
    candidates = _candidates(best, flat_low, flat_high, supported_h)
    regret = mean_regret(candidates, shapes, scales, ratio)
    return replace(
        answer,
        hours=hours,
        cost=unit * cost_rate(hours, shape, scale, ratio),
        cost_low=np.array([e[0] for e in edges]),
        cost_high=np.array([e[1] for e in edges]),
        regret_hours=candidates,
        regret=regret,
        least_regret_h=float(candidates[int(np.argmin(regret))]),
    )


def _cost_quantiles(age: float, shape: Array, scale: Array, ratio: float, tail: float) -> Array:
    return np.quantile(cost_rate(age, shape, scale, ratio), [tail, 1.0 - tail])


def _candidates(best: float, low: float, high: float, supported_h: float) -> Array:
    """Return ages in steps of 50 h (wider if they would be many) around the flat range."""
    first = 0.7 * low
    last = max(2.0 * best, supported_h) if np.isinf(high) else max(1.3 * high, supported_h)
    step = ADVICE_STEP_H
    while (last - first) / step > MOST_CANDIDATES:
        step *= 2.0
    if last < 4 * step:  # lives far shorter than the step of advice
        step = last / 40.0
    start = max(np.ceil(first / step), 1.0)
    return np.asarray(step * np.arange(start, np.floor(last / step) + 1.0))


def _sentence(answer: CostAnswer, supported_h: float) -> str:
    if answer.optimum is None or answer.failure_at_optimum is None or answer.ratio is None:
        return ""
    o, f = answer.optimum, answer.failure_at_optimum
    low = "no lower limit" if o.low is None else hours_near(o.low)
    high = "no upper limit" if o.high is None else hours_near(o.high)
    last = "and beyond" if answer.flat_high_h is None else f"to {hours_down(answer.flat_high_h)}"
    text = (
        f"At a cost ratio of {answer.ratio:g} planned overhaul is cheapest near "
        f"{hours_near(o.estimate)} ({low} to {high} at {100 * o.level:g} %), and anywhere from "
        f"{hours_near(answer.flat_low_h)} {last} costs at most 5 % more. Cheapest is not safest: "
        f"{text_percent(f.estimate)} are estimated to fail before {o.estimate:,.0f} h"
    )
    if f.high is not None:
        text += f" (up to {at_most(f.high)})"
    text += "."
    if answer.share_without:
        text += f" {text_percent(answer.share_without)} of the resamples have no finite optimum."
    if answer.extrapolated:
        text += (
            f" The age lies beyond {supported_h:,.0f} h, where the evidence ends: extrapolation."
        )
    return text
