"""How many failures nobody reported, from returns that overlap."""

from fleetstats.chapters.unreported.compute import estimate_unreported
from fleetstats.chapters.unreported.values import Unreported
from fleetstats.chapters.unreported.words import beside_tipping

__all__ = ["Unreported", "beside_tipping", "estimate_unreported"]
