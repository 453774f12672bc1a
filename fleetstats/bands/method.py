"""Which method a fleet's bands are made by, why, and how true its edges were when measured."""

from __future__ import annotations

import numpy as np

from fleetstats.bands.bayes.prior import ShapePrior, count_lives
from fleetstats.bands.coverage_table import measured_coverage
from fleetstats.core.arguments import choice, wrong
from fleetstats.core.value import Value, value
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import EvidenceKeys

FEW = 4.0
"""Failures from which the maximum of the likelihood is quoted as the estimate; with fewer its shape
is noise, and the median of the mixture stands in its place."""

METHODS = ("profile", "shape-mixture", "weights", "weights-bca", "parametric",
           "calibrated-profile", "posterior", "wald")  # fmt: skip

WEIBULL_ALONE = ("shape-mixture", "weights-bca", "parametric", "calibrated-profile", "posterior")
"""Methods whose formulas are the Weibull's: asked of another family they would answer for it."""


@value
class MethodChoice(Value):
    """Which method, why, and the coverage measured in the nearest cells of the calibration study.

    `measured_coverage` is the least over true shapes and over the edges that a claim rests on, of
    edges that promise 95 % one-sided; None where the study did not measure the method.
    `coverage_table.measured_coverage` tells the cell.
    """

    method: str
    why: str
    measured_coverage: float | None


def shape_prior(settings: EvidenceKeys | None) -> ShapePrior:
    """Return the shape prior of a study: stated if any of its keys differs from the default."""
    keys, usual = settings or EvidenceKeys(), EvidenceKeys()
    names = ("prior_shape_median", "prior_shape_log_sd", "prior_source")
    return ShapePrior(
        median=keys.prior_shape_median,
        log_sd=keys.prior_shape_log_sd,
        stated=any(getattr(keys, n) != getattr(usual, n) for n in names),
        source=keys.prior_source,
    )


def choose_method(
    spells: Spells, settings: EvidenceKeys | None = None, *, family: str = "weibull"
) -> MethodChoice:
    """Choose the method of the bands by what is in hand.

    Parameters
    ----------
    spells : Spells
        The lives.
    settings : EvidenceKeys, optional
        A method other than "auto" is obeyed; a stated shape prior is used as it stands.
    family : str
        Family of the fit that bands are asked for.
    """
    keys = settings or EvidenceKeys()
    method = method_name(keys, family)
    if keys.method != "auto":
        why = "The study asks for this method."
        return MethodChoice(method=method, why=why, measured_coverage=_measured(method, spells))
    if family != "weibull":
        why = "Limits of a family other than the Weibull come from its own likelihood."
        return MethodChoice(method=method, why=why, measured_coverage=None)
    r = spells.n_failed
    if shape_prior(keys).stated:
        why = "Shapes are mixed with the prior that the study states, weighed by the data."
        return MethodChoice(method=method, why=why, measured_coverage=None)
    if r == 0:
        why = "Nothing failed, so the bounds for each assumed shape are mixed by a wide prior."
    elif r < FEW:
        why = (
            f"{r:g} failed, too few to tell the shape: bounds for each shape are mixed by a wide "
            "prior and by what the failures say."
        )
    else:
        why = (
            f"With {r:g} failures the shapes are mixed by the likelihood; the prior has all but "
            "vanished. In the calibration study its edges were the truest."
        )
    return MethodChoice(method=method, why=why, measured_coverage=_measured(method, spells))


def method_name(settings: EvidenceKeys, family: str) -> str:
    """Return the method that a study's settings and the family of its fit lead to."""
    if settings.method != "auto":
        return settings.method
    return "shape-mixture" if family == "weibull" else "profile"


TABLE_NAMES = {"weights": "weights-percentile"}
"""Where the table of measured coverage names a method otherwise than the settings."""


def _measured(method: str, spells: Spells) -> float | None:
    near = measured_coverage(
        TABLE_NAMES.get(method, method),
        n_engines=count_lives(spells),
        n_failed=spells.n_failed,
        late=bool(np.any(spells.entry > 0.0)),
    )
    return None if near is None else near.coverage


def method_of_call(method: object, family: str, settings: EvidenceKeys) -> str:
    """Return the method that a call for bands leads to, ``"auto"`` resolved.

    Raises
    ------
    ArgumentError
        If there is no such method, or it knows the Weibull alone and the fit is of another family.
    """
    use = choice(method, "method", ("auto", *METHODS))
    if use == "auto":
        use = method_name(settings, family)
    if family != "weibull" and use in WEIBULL_ALONE:
        right = ", ".join(f"'{m}'" for m in METHODS if m not in WEIBULL_ALONE)
        raise wrong(
            "method", use,
            f"It knows the Weibull alone, and this fit is {family}. Ask {right} of it, or fit the "
            "Weibull.",
        )  # fmt: skip
    return use
