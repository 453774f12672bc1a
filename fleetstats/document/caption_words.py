"""Captions that are true only of some figures: each is made from the figures that it speaks of.

A caption says what to see. What is to be seen differs from fleet to fleet, so none of these may be
written as a fixed sentence beside a table or figure; `tests/unit/test_caption_words.py` holds each
to figures on both sides of its condition, and to the tables of the demo reports.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fleetstats.core.units import text_decided, text_hours
from fleetstats.core.value import Array
from fleetstats.vocabulary.wording import at_most, count

LITTLE = 0.05
"""Spread, as a share of the least figure, up to which figures are said to differ little (a tenth of
what separates neighbouring overhaul intervals; common practice, no source)."""

ALIKE_FIT = 2.0
"""Difference of log likelihood up to which two curves fit about as well (Edwards 1992: support of
two units)."""

FAN = 1.1
"""From this many times the ratio of edges at the end of the evidence a range is said to fan out."""


def is_little(figures: Sequence[float]) -> bool:
    """Return whether figures lie within `LITTLE` of the least of them."""
    return max(figures) - min(figures) <= LITTLE * abs(min(figures))


def say_over_shapes(lows_h: Sequence[float | None], supported_h: float) -> str:
    """Say how far the assumed shape moves an age, and whether within the evidence.

    Parameters
    ----------
    lows_h : sequence of float or None
        The age for each assumed shape; None where there is none.
    supported_h : float
        Hours at which the evidence ends.
    """
    known = [v for v in lows_h if v is not None]
    if len(known) < 2:
        return ""
    low, high = min(known), max(known)
    span = f"{text_hours(low)} to {text_hours(high)}"
    text = (
        f"The assumed shape matters little here: {span}."
        if is_little(known)
        else f"The assumed shape moves this age from {span}."
    )
    if high > supported_h:
        text += (
            f" Hours beyond {text_hours(supported_h)}, where the evidence ends, are extrapolation."
        )
    return text


def say_claim_shapes(highs: Sequence[float], accepted: float) -> str:
    """Say how far the assumed shape moves the upper bound at the claimed hours, and across what.

    Parameters
    ----------
    highs : sequence of float
        Upper bound of the chance of failure for each assumed shape.
    accepted : float
        Chance that is accepted.
    """
    low, high = at_most(min(highs), accepted), at_most(max(highs), accepted)
    if low == high:
        return f"The assumed shape hardly moves the bound: {low} for each."
    text = (
        f"The assumed shape matters little here: {low} to {high}."
        if is_little(highs)
        else f"The assumed shape moves the bound from {low} to {high}."
    )
    if min(highs) <= accepted < max(highs):
        text += " It decides whether the accepted chance is kept."
    return text


def say_fan(hours: Array, best: Array, worst: Array, supported_h: float) -> str:
    """Say what the range of a bound over shapes does past the evidence.

    Parameters
    ----------
    hours, best, worst : (m,) float
        Ages, and the bound there for the most and the least favourable shape.
    supported_h : float
        Hours at which the evidence ends.
    """
    text = "The shaded range holds the upper bound for every assumed shape"
    if not 0.0 < supported_h < float(hours[-1]):
        return f"{text}."
    at_end = np.interp(supported_h, hours, worst) / max(np.interp(supported_h, hours, best), 1e-300)
    last = float(worst[-1]) / max(float(best[-1]), 1e-300)
    if last > FAN * at_end:
        return f"{text}; it fans out past {text_hours(supported_h)}, where the evidence ends."
    return f"{text}. Past {text_hours(supported_h)}, where the evidence ends, it is extrapolation."


def say_groups(highs: Sequence[float], whole: float, n_not_shown: int) -> str:
    """Say how the claim of each group lies beside that of the whole fleet.

    Parameters
    ----------
    highs : sequence of float
        Upper bound of the chance of failure for each group.
    whole : float
        That of the whole fleet.
    n_not_shown : int
        Groups that do not show the claim.
    """
    less = sum(h > whole for h in highs)
    shows = "shows" if less == 1 else "show"
    text = (
        f"A part of the fleet has fewer hours behind it; {less or 'none'} of {len(highs)} {shows} "
        "less than the whole."
    )
    if n_not_shown:
        text += " That a group does not show the claim is no sign that it is worse."
    return text


def say_options(pairs: Sequence[tuple[float, float, float, float]]) -> str:
    """Compare new engines with the oldest run on: what they buy and what they put at stake.

    Parameters
    ----------
    pairs : sequence of (float, float, float, float)
        For each shape: upper bound after new engines and after the oldest run on; chance to end
        worse than today with the one and with the other.
    """
    if not pairs:
        return "Both chances stand side by side."
    more = [a < b for a, b, _, _ in pairs]
    risk = [c > d for _, _, c, d in pairs]
    n = len(pairs)

    def where(flags: list[bool]) -> str:
        k = sum(flags)
        return "at every shape" if k == n else "at no shape" if k == 0 else f"at {k} of {n} shapes"

    return (
        f"New engines buy more than the oldest run on {where(more)}, and put more at stake "
        f"{where(risk)}: both chances stand side by side."
    )


def say_slip(shares: Array) -> str:
    """Say whether the assumed chance of detection moves the share of faults that fail first.

    Parameters
    ----------
    shares : (k, m) float
        Share for each chance of detection and each interval.
    """
    spread = shares.max(axis=0) - shares.min(axis=0)
    widest = float(spread.max())
    head = "Each chance of detection is fitted to the same records"
    size = f"{100 * widest:.2g}"
    points = f"{size} percentage {'point' if size == '1' else 'points'}"
    if bool((spread <= LITTLE * shares.min(axis=0)).all()):
        return f"{head}, so the shares differ little: by up to {points}."
    return f"{head}; the shares differ by up to {points}."


def say_regret(flat_failure: Sequence[float]) -> str:
    """Say what a later age costs in failures, among ages that cost nearly the same.

    Parameters
    ----------
    flat_failure : sequence of float
        Chance of failing before each age within 5 % of the least cost, by rising age.
    """
    tail = "cheapest is not safest."
    if len(flat_failure) < 2:
        return f"The later the age, the more engines fail before it: {tail}"
    return (
        "Among the ages within 5 % of the least cost, from "
        f"{text_decided(flat_failure[0])} to {text_decided(flat_failure[-1])} fail before: {tail}"
    )


def say_carried(below_best: Sequence[float]) -> str:
    """Say whether the records can tell how much of an engine's age an overhaul takes away.

    Parameters
    ----------
    below_best : sequence of float
        Log likelihood of each share kept, below the best.
    """
    alike = sum(d <= ALIKE_FIT for d in below_best)
    if alike == len(below_best):
        return (
            f"All rows lie within {ALIKE_FIT:g} of the best, so these records cannot tell how much "
            "of an engine's age an overhaul takes away."
        )
    worse = len(below_best) - alike
    return (
        f"{count(worse, 'row').capitalize()} {'lies' if worse == 1 else 'lie'} more than "
        f"{ALIKE_FIT:g} below the best and {'fits' if worse == 1 else 'fit'} these records worse; "
        "the others fit about as well as each other."
    )


def say_other_curves(lives_h: Sequence[float], name: str, supported_h: float) -> str:
    """Say how far curves that fit about as well move a life; of one curve there is nothing to say.

    Parameters
    ----------
    lives_h : sequence of float
        The life by each curve that fits about as well as the best.
    name : str
        Which life.
    supported_h : float
        Hours at which the evidence ends.
    """
    if len(lives_h) < 2:
        return "Another curve would change the answer, most of all beyond the ages seen."
    low, high = min(lives_h), max(lives_h)
    span = f"{text_hours(low)} to {text_hours(high)}"
    little = "differ little in" if is_little(lives_h) else "move"
    text = f"Curves that fit about as well {little} the {name}: {span}"
    if high > supported_h:
        text += f", partly beyond {text_hours(supported_h)}, where the evidence ends"
    return f"{text}."
