"""Whether the rate at equal ages has changed over the calendar."""

from fleetstats.chapters.change.compute import mix_on
from fleetstats.chapters.change.rise import know_rise
from fleetstats.chapters.change.values import Changed
from fleetstats.chapters.change.words import not_asked

__all__ = ["Changed", "know_rise", "mix_on", "not_asked"]
