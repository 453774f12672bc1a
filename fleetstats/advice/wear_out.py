"""Answer (a): is there wear-out at all?

A fixed overhaul age helps only if the risk rises with the hours of an engine: shape above 1.
The exponential law (shape 1) is nested in the Weibull, so twice the gain in log-likelihood is
compared with chi-square on 1 degree of freedom (Lawless 2003, sections 4.1 and 4.2).
"""

from __future__ import annotations

import math

from fleetstats.advice.advice import WearOut
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.in_use import ask_band
from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.spells import Spells
from fleetstats.survival.families.families import fit_family
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.limits import FEW_FOR_SHAPE
from fleetstats.vocabulary.wording import failures_told, shape_words

PLANNING_SHAPE = 2.0
"""Taken as the truth where nothing can be fitted, to say how many failures would settle it."""

BY_FIT = " (that of the greatest likelihood)"
"""Told beside a shape that is the fit's and not the middle of the band: two numbers, two names."""

MOST_FAILURES = 1000
"""A need of more failures than this is said as "more than"."""


def failures_to_settle(fit: Fit | None, level: float) -> int:
    """Return about how many failures would put the lower edge of the shape's band above 1.

    The variance of log shape falls as 1 / failures; with a fit its own variance is scaled, without
    one the value 1 per failure of heavily censored Weibull data is used (with few failed, -log(t/T)
    of the failures is exponential with rate shape). At least `FEW_FOR_SHAPE`.
    """
    from scipy.special import ndtri

    z = float(ndtri(0.5 * (1.0 + level)))
    if fit is None:
        per_failure, log_shape = 1.0, math.log(PLANNING_SHAPE)
    else:
        per_failure = fit.n_failed * (fit.std_error("shape") / fit.shape) ** 2
        log_shape = abs(math.log(fit.shape))
    if log_shape < 1e-6:
        return MOST_FAILURES + 1
    need = math.ceil(per_failure * (z / log_shape) ** 2)
    return int(min(max(need, FEW_FOR_SHAPE), MOST_FAILURES + 1))


def _settle(needed: int, spells: Spells, fit: Fit | None, best: float | None) -> str:
    """Say what would settle the question; `best` is the shape that the band's method estimates."""
    rate = spells.n_failed / spells.exposure_h if spells.exposure_h > 0 else 0.0
    shape = PLANNING_SHAPE if fit is None else fit.shape
    how = "" if fit is None or best is None or _number(best) == _number(fit.shape) else BY_FIT
    number = f"more than {MOST_FAILURES:,}" if needed > MOST_FAILURES else f"about {needed:,}"
    text = (
        f"If the shape is {_number(shape)}{how}, {number} failures of the kind in "
        "question would settle it"
    )
    if rate > 0 and needed > spells.n_failed:
        hours = (needed - spells.n_failed) / rate
        digits = max(0, math.floor(math.log10(hours)) - 1)
        text += f": at the rate seen, some {round(hours, -digits):,.0f} further engine hours"
    return (
        text + ". Engines run on past the present ages, with what is found at each teardown "
        "recorded, settle it soonest."
    )


def weigh_shape(lives: Quoter) -> tuple[str, Interval | None]:
    """Return whether the shape shows wear-out, as a state of `WearOut`, and the shape's band.

    Parameters
    ----------
    lives : Quoter
        The fleet; unreported failures added to few recorded ones do not make its shape known.
    """
    if lives.fit is None:
        return "not-enough-evidence", None
    shape = ask_band(lives.spells, lives.fit, Quantity.shape(), lives.settings)
    if lives.few:
        return "not-enough-evidence", shape
    if shape.low is not None and shape.low > 1.0:
        return "wear-out", shape
    if shape.high is not None and shape.high < 1.0:
        return "no-wear-out", shape
    return "not-shown", shape


def advise_wear_out(lives: Quoter) -> WearOut:
    """Return the shape with its band, the test of shape = 1, and what would settle the question.

    Parameters
    ----------
    lives : Quoter
        The fleet, with the study's confidence and method.
    """
    spells, fit, level = lives.spells, lives.fit, lives.settings.study.confidence
    needed = failures_to_settle(fit, level)
    seen = failures_told(spells.n_failed, spells.n_left_out)
    state, shape = weigh_shape(lives)
    best = None if shape is None else shape.estimate
    settle = _settle(needed, spells, fit, best)
    if fit is None or shape is None:
        return WearOut(
            state=state,
            sentence=(
                f"With {seen} the records cannot say whether engines wear out with hours, so a "
                "fixed overhaul age is not supported by these data."
            ),
            failures_needed=needed,
            settle=settle,
        )
    statistic, p_value = compare_with_shape_one(spells, fit)
    text = (
        f"The Weibull shape is estimated at {_number(fit.shape if best is None else best)} "
        f"({_number(shape.low) if shape.low is not None else 'no lower limit'} to "
        f"{_number(shape.high) if shape.high is not None else 'no upper limit'} at "
        f"{100 * level:g} %)"
    )
    odds = f"if hours did not matter, a fit this far from 1 would arise in {_share(p_value)}"
    tail = {
        "not-enough-evidence": (
            f", but {seen} are too few to read a shape from: a fixed overhaul age is not supported "
            "by these data."
        ),
        "wear-out": f", all above 1: the records show wear-out ({odds}).",
        "no-wear-out": (
            ", all below 1: the risk falls as hours grow. Overhaul at a fixed age would not lower "
            "it; look for early faults of build, assembly or overhaul."
        ),
        "not-shown": (
            f", which holds 1: wear-out is not shown ({odds}), so a fixed overhaul age is not "
            "supported by these data."
        ),
    }[state]
    settled = state in ("wear-out", "no-wear-out")
    return WearOut(
        state=state,
        sentence=text + tail,
        shape=shape,
        statistic=statistic,
        p_value=p_value,
        failures_needed=None if settled else needed,
        settle="" if settled else settle,
    )


def _number(shape: float) -> str:
    """Write a shape so that its side of 1, where hours do not matter, shows."""
    return shape_words(shape, 1.0)


def compare_with_shape_one(spells: Spells, fit: Fit) -> tuple[float, float]:
    """Return the likelihood-ratio statistic of shape = 1 and its chance if that were true."""
    from scipy.special import gammaincc

    flat = fit_family(spells, "exponential")
    statistic = max(2.0 * (fit.log_likelihood - flat.log_likelihood), 0.0)
    return statistic, float(gammaincc(0.5, 0.5 * statistic))


def _share(p: float) -> str:
    if p < 1e-4:
        return "fewer than 1 in 10,000 such fleets"
    if p < 0.2:
        n = 1.0 / p
        digits = max(0, math.floor(math.log10(n)) - 1)
        return f"about 1 in {round(n, -digits):,.0f} such fleets"
    return f"{100 * p:.0f} of 100 such fleets"
