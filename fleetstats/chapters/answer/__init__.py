"""The first screen, and a page for each reader."""

from fleetstats.chapters.answer.readers import compose_summaries
from fleetstats.chapters.answer.words import answer_sentences

__all__ = ["answer_sentences", "compose_summaries"]
