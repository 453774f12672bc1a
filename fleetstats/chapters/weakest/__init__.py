"""The weakest points of the answer in numbers, and what was not examined."""

from fleetstats.chapters.weakest.compute import find_weakest
from fleetstats.chapters.weakest.gaps import say_left_out
from fleetstats.chapters.weakest.section import compose_weakest, figure_words, limit_words
from fleetstats.chapters.weakest.values import NotExamined, Weakest, WeakPoint

__all__ = [
    "NotExamined",
    "WeakPoint",
    "Weakest",
    "compose_weakest",
    "figure_words",
    "find_weakest",
    "limit_words",
    "say_left_out",
]
