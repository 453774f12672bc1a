"""Where rows came from and what became of them."""

from fleetstats.chapters.data.likeness import compose_likeness
from fleetstats.chapters.data.long_table import LEFT_OUT, Pairing, say_left_out

__all__ = ["LEFT_OUT", "Pairing", "compose_likeness", "say_left_out"]
