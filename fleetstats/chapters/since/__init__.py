"""The answers from what happened after a date only, beside those of all dates."""

from fleetstats.chapters.since.compute import answers_since
from fleetstats.chapters.since.section import since_blocks
from fleetstats.chapters.since.values import SinceAnswer, SinceRuns

__all__ = ["SinceAnswer", "SinceRuns", "answers_since", "since_blocks"]
