"""Three routes to one answer: our fit and two libraries'; our band, a resampled and a Bayesian one.

Routes that agree do not prove an answer right, but routes that part say where to look: a fit that
stopped short, too few failures for resampling, or a prior that speaks louder than the data.
"""

from __future__ import annotations

import numpy as np

from fleetstats.bands.choose import Asked
from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.routes.values import BandRoute, FitRoute, Routes
from fleetstats.chapters.routes.words import band_sentence, fit_sentence
from fleetstats.core.errors import BandError, FitError
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import EvidenceKeys
from fleetstats.survival.fit import Fit
from fleetstats.survival.second_opinion import Opinion, second_opinions

APART = 0.25
"""Difference of an edge, as a share of our band's width on its scale, from which routes part."""


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
            fit_sentence(fits, fits_agree),
            band_sentence(spells, bands, bands_agree),
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
    def by(method: str) -> Interval:
        asked = Asked.of(spells, fit, level=level, method=method, settings=keys, seed=seed)
        return asked.interval(quantity)

    ours = by("auto")
    out = [BandRoute(name=NAMES["auto"], interval=ours, agrees=None, note="")]
    for method in ("profile", "weights", "posterior"):
        if fit is None:
            note = "needs a fit, and none exists"
            out.append(BandRoute(name=NAMES[method], interval=None, agrees=None, note=note))
            continue
        try:
            one = by(method)
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
