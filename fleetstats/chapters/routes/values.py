"""Results of the routes to one answer."""

from __future__ import annotations

from fleetstats.bands.interval import Interval
from fleetstats.core.value import Value, value


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
