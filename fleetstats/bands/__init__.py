"""Floor 4: how sure we are."""

from fleetstats.bands.choose import MethodChoice, band, band_curve, choose_method
from fleetstats.bands.interval import Band, Interval
from fleetstats.bands.quantity import Quantity

__all__ = [
    "Band",
    "Interval",
    "MethodChoice",
    "Quantity",
    "band",
    "band_curve",
    "choose_method",
]
