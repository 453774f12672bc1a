"""A bound on the memory that work may take."""

from fleetstats.core.memory.bound import LEAST_BYTES, held_to, read_memory, say_memory
from fleetstats.core.memory.give_back import give_back

__all__ = ["LEAST_BYTES", "give_back", "held_to", "read_memory", "say_memory"]
