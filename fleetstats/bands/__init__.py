"""Floor 4: how sure we are."""

from fleetstats.bands.choose import MethodChoice, band, band_curve, choose_method
from fleetstats.bands.interval import Band, Interval
from fleetstats.bands.likelihood.given_shape import (
    ShapeBound,
    ShapeTable,
    bound_given_shape,
    bounds_over_shapes,
)
from fleetstats.bands.quantity import Quantity

__all__ = [
    "Band",
    "Interval",
    "MethodChoice",
    "Quantity",
    "ShapeBound",
    "ShapeTable",
    "band",
    "band_curve",
    "bound_given_shape",
    "bounds_over_shapes",
    "choose_method",
]
