"""A bound on the memory that work may take."""

from fleetstats.core.memory.bound import LEAST_BYTES, held_to, read_memory, say_memory

__all__ = ["LEAST_BYTES", "held_to", "read_memory", "say_memory"]
