"""The first screen, and a page for each reader."""

from fleetstats.chapters.answer.beside import compose_beside
from fleetstats.chapters.answer.readers import compose_summaries
from fleetstats.chapters.answer.words import answer_sentences, in_so_many

__all__ = ["answer_sentences", "compose_beside", "compose_summaries", "in_so_many"]
