"""Whether the failures follow the fitted curve, over all ages and near the claim."""

from fleetstats.chapters.curve_fit.compute import caution_curve
from fleetstats.chapters.curve_fit.values import CurveFit

__all__ = ["CurveFit", "caution_curve"]
