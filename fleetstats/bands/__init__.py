"""Floor 4: how sure we are."""

from fleetstats.bands.choose import band, band_curve
from fleetstats.bands.interval import Band, Interval
from fleetstats.bands.method import MethodChoice, choose_method
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
