"""What the routes' agreement or parting means, in words."""

from __future__ import annotations

from fleetstats.bands.method import FEW
from fleetstats.chapters.routes.values import BandRoute, FitRoute
from fleetstats.spells.spells import Spells
from fleetstats.survival.second_opinion import CLOSE


def fit_sentence(fits: tuple[FitRoute, ...], agree: bool | None) -> str:
    """Say whether the libraries' fits agree with ours."""
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


def band_sentence(spells: Spells, bands: tuple[BandRoute, ...], agree: bool | None) -> str:
    """Say whether the routes to the band agree, and where they part."""
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
