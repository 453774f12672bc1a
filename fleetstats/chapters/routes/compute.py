"""Three routes to one answer: our fit and two libraries'; our band, a resampled and a Bayesian one.

Routes that agree do not prove an answer right, but routes that part say where to look: a fit that
stopped short, too few failures for resampling, or a prior that speaks louder than the data.
"""

from __future__ import annotations

import numpy as np

from fleetstats.bands.choose import FEW, band
from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.core.errors import BandError, FitError
from fleetstats.core.value import Value, value
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import EvidenceKeys
from fleetstats.survival.fit import Fit
from fleetstats.survival.second_opinion import CLOSE, Opinion, second_opinions

APART = 0.25
"""Difference of an edge, as a share of our band's width on its scale, from which routes part."""


@value
class FitRoute(Value):
    """One way to the estimates.

    Parameters
    ----------
    name : str
        Ours, or the library with its version.
    shape, scale_h, b10_h : float or None
        None without an answer.
    log_likelihood : float or None
    agrees : bool or None
        With ours, within 0.1 %; None for ours and without an answer.
    note : str
    """

    name: str
    shape: float | None
    scale_h: float | None
    b10_h: float | None
    log_likelihood: float | None
    agrees: bool | None
    note: str


@value
class BandRoute(Value):
    """One way to the band of one quantity.

    Parameters
    ----------
    name : str
        In words: our band, profile likelihood, weighted resamples, Bayesian.
    interval : Interval or None
        None where the route cannot answer; `note` says why.
    agrees : bool or None
        Whether both edges lie within a quarter of our band's width of ours.
    note : str
    """

    name: str
    interval: Interval | None
    agrees: bool | None
    note: str


@value
class Routes(Value):
    """The routes side by side, and what their agreement or parting means.

    Parameters
    ----------
    quantity : str
    fits : tuple of FitRoute
        Ours first.
    bands : tuple of BandRoute
        Ours first.
    fits_agree, bands_agree : bool or None
        None where no other route answered.
    sentences : tuple of str
        What that means, in full sentences.
    """

    quantity: str
    fits: tuple[FitRoute, ...]
    bands: tuple[BandRoute, ...]
    fits_agree: bool | None
    bands_agree: bool | None
    sentences: tuple[str, ...]


def band_routes(
    spells: Spells,
    fit: Fit | None,
    quantity: Quantity,
    *,
    level: float,
    settings: EvidenceKeys | None = None,
    seed: int = 0,
    opinions: tuple[Opinion, ...] | None = None,
) -> Routes:
    """Put the routes to one quantity side by side.

    Parameters
    ----------
    spells : Spells
        The lives.
    fit : Fit or None
        Their Weibull fit; None where none exists.
    quantity : Quantity
        What the bands are of.
    level : float
        Two-sided.
    settings : EvidenceKeys, optional
        Shape prior, resamples and method of the study.
    seed : int
        Of the resampling.
    opinions : tuple of Opinion, optional
        Of the libraries, if they have been asked already.
    """
    keys = settings or EvidenceKeys()
    fits = _fits(fit, opinions)
    bands = _bands(spells, fit, quantity, level, keys, seed)
    fits_agree = _all([f.agrees for f in fits])
    bands_agree = _all([b.agrees for b in bands])
    return Routes(
        quantity=quantity.name,
        fits=fits,
        bands=bands,
        fits_agree=fits_agree,
        bands_agree=bands_agree,
        sentences=(
            _fit_sentence(fits, fits_agree),
            _band_sentence(spells, bands, bands_agree),
        ),
    )


def _fits(fit: Fit | None, opinions: tuple[Opinion, ...] | None) -> tuple[FitRoute, ...]:
    if fit is None:
        return (
            FitRoute(
                name="fleetstats",
                shape=None,
                scale_h=None,
                b10_h=None,
                log_likelihood=None,
                agrees=None,
                note="the likelihood has no maximum, so nothing is fitted",
            ),
        )
    out = [
        FitRoute(
            name="fleetstats",
            shape=fit.shape,
            scale_h=fit.scale_h,
            b10_h=float(fit.quantile(0.10)),
            log_likelihood=fit.log_likelihood,
            agrees=None,
            note="",
        )
    ]
    for one in second_opinions(fit) if opinions is None else opinions:
        values = dict(zip(one.names, one.estimate.tolist(), strict=False)) if one.answered else {}
        life = one.b10_relative_difference
        b10 = None if life is None else float(fit.quantile(0.10)) * (1.0 + life)
        out.append(
            FitRoute(
                name=one.library,
                shape=values.get("shape"),
                scale_h=values.get("scale_h"),
                b10_h=b10,
                log_likelihood=one.log_likelihood,
                agrees=one.agrees,
                note=" ".join(one.notes),
            )
        )
    return tuple(out)


NAMES = {
    "auto": "our band",
    "profile": "profile likelihood",
    "weights": "weighted resamples",
    "posterior": "Bayesian, the prior on shape in full",
}


def _bands(
    spells: Spells, fit: Fit | None, quantity: Quantity, level: float, keys: EvidenceKeys, seed: int
) -> tuple[BandRoute, ...]:
    ours = band(spells, fit, quantity, level=level, settings=keys, seed=seed)
    out = [BandRoute(name=NAMES["auto"], interval=ours, agrees=None, note="")]
    for method in ("profile", "weights", "posterior"):
        if fit is None:
            note = "needs a fit, and none exists"
            out.append(BandRoute(name=NAMES[method], interval=None, agrees=None, note=note))
            continue
        try:
            one = band(spells, fit, quantity, level=level, method=method, settings=keys, seed=seed)
        except (BandError, FitError) as error:
            out.append(
                BandRoute(name=NAMES[method], interval=None, agrees=None, note=error.message)
            )
            continue
        out.append(
            BandRoute(name=NAMES[method], interval=one, agrees=_near(ours, one, quantity), note="")
        )
    return tuple(out)


def _near(ours: Interval, other: Interval, quantity: Quantity) -> bool | None:
    """Compare edges that both have, on the scale on which the band is nearly symmetric."""
    pairs = [(ours.low, other.low), (ours.high, other.high)]
    both = [(a, b) for a, b in pairs if a is not None and b is not None]
    if not both:
        return None
    if ours.low is not None and ours.high is not None:
        ends = quantity.score_of([ours.low, ours.high], 1.0)
        width = abs(float(ends[1] - ends[0]))
    else:
        width = 1.0
    apart = [abs(float(quantity.score_of(a, 1.0) - quantity.score_of(b, 1.0))) for a, b in both]
    missing = any((a is None) != (b is None) for a, b in pairs)
    return bool(np.max(apart) <= APART * width) and not missing


def _all(agrees: list[bool | None]) -> bool | None:
    seen = [a for a in agrees if a is not None]
    return all(seen) if seen else None


def _fit_sentence(fits: tuple[FitRoute, ...], agree: bool | None) -> str:
    others = [f for f in fits[1:] if f.shape is not None]
    if agree is None:
        return "No other library could be asked the same question of these lives."
    names = " and ".join(f.name for f in others)
    if agree:
        find = "finds" if len(others) == 1 else "find"
        return f"{names} {find} the same shape, scale and B10 life within {100 * CLOSE:g} %."
    ours = fits[0].log_likelihood
    behind = [
        f.name
        for f in others
        if not f.agrees
        and f.log_likelihood is not None
        and ours is not None
        and f.log_likelihood < ours
    ]
    if behind:
        return (
            f"{' and '.join(behind)} stopped at a lower likelihood than ours: that fit had not "
            "reached the maximum, and the difference is its own."
        )
    return (
        "The fits differ although none lies at a lower likelihood than ours: the libraries may "
        "have been asked something else, so read their notes before relying on either."
    )


def _band_sentence(spells: Spells, bands: tuple[BandRoute, ...], agree: bool | None) -> str:
    if agree is None:
        return (
            "No other band can be had without a fit; ours rests on the exposure and on the stated "
            "prior for the shape."
        )
    if agree:
        return (
            "The edges of the other bands lie within a quarter of our band's width of ours, so "
            "the answer does not hang on the method."
        )
    apart = " and ".join(b.name for b in bands[1:] if b.agrees is False)
    if spells.n_failed < FEW:
        why = (
            "With so few failures that is to be expected: resampling repeats the same few, and a "
            "prior decides what they leave open."
        )
    else:
        why = (
            "Where the resampled band is the narrower, few failures are the usual reason; where "
            "the Bayesian one stands apart, the prior on the shape still weighs."
        )
    return f"These part from our band: {apart}. {why} Our band's coverage was measured."
