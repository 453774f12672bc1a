"""Floor 4: how sure we are."""

from fleetstats.bands.interval import Band, Interval

__all__ = ["Band", "Interval"]
