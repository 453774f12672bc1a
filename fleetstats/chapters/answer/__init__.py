"""The first screen, and a page for each reader."""

from fleetstats.chapters.answer.beside import compose_beside
from fleetstats.chapters.answer.readers import (
    compose_summaries,
    what_is_seen,
    what_tells_more,
    which_first,
)
from fleetstats.chapters.answer.section import accepted_words
from fleetstats.chapters.answer.words import answer_sentences, in_so_many

__all__ = [
    "accepted_words",
    "answer_sentences",
    "compose_beside",
    "compose_summaries",
    "in_so_many",
    "what_is_seen",
    "what_tells_more",
    "which_first",
]
