"""Where rows came from and what became of them."""

from fleetstats.chapters.data.likeness import compose_likeness
from fleetstats.chapters.data.long_table import LEFT_OUT, Pairing, say_left_out
from fleetstats.chapters.data.sampled import SAMPLED, Sampled, SampledChapters, say_sampled

__all__ = [
    "LEFT_OUT",
    "SAMPLED",
    "Pairing",
    "Sampled",
    "SampledChapters",
    "compose_likeness",
    "say_left_out",
    "say_sampled",
]
