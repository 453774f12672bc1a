"""What a stated doubt of the clocks does to the claim."""

from fleetstats.chapters.clock_doubt.values import ClockDoubt

__all__ = ["ClockDoubt"]
