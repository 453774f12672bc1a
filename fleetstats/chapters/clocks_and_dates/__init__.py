"""The same question put to other clocks, dates and years."""

from fleetstats.chapters.clocks_and_dates.compute import run_spells
from fleetstats.chapters.clocks_and_dates.values import Rerun

__all__ = ["Rerun", "run_spells"]
