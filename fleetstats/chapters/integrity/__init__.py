"""Signs in the records that ask for a second look."""

from fleetstats.chapters.integrity.compute import look_again
from fleetstats.chapters.integrity.values import Integrity

__all__ = ["Integrity", "look_again"]
