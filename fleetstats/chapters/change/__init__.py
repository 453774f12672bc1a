"""Whether the rate at equal ages has changed over the calendar."""

from fleetstats.chapters.change.compute import mix_on
from fleetstats.chapters.change.rise import know_rise
from fleetstats.chapters.change.values import Changed

__all__ = ["Changed", "know_rise", "mix_on"]
