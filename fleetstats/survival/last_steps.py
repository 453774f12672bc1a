"""When a Newton climb may stop: after its last step is taken, not before."""

from __future__ import annotations

CLOSE = 1e-12
"""Newton decrement, twice the log likelihood still to gain, from which full steps are trusted: the
gain of one is beneath what rounding leaves of the likelihood, so no line search can judge it."""

ROUNDED = 1e-24
"""Newton decrement beneath which a step is 1e-12 standard errors or less: there is none to take."""


def has_settled(decrement: float, before: float) -> bool:
    """Return whether a climb has ended where it stands.

    Parameters
    ----------
    decrement : float
        Newton decrement here.
    before : float
        Decrement one step earlier; infinite at the start.

    Notes
    -----
    Close to a maximum the decrement falls with the square of itself, from 1e-12 to 1e-24. Where it
    falls no more, rounding is all that is left of it; where it falls by a steady factor (about e),
    the likelihood climbs for ever and further steps lead nowhere.
    """
    return decrement < ROUNDED or (decrement < CLOSE and decrement > 0.25 * before)
