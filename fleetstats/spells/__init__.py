"""Floor 2: lives of engines, from the start of observation to their end."""

from fleetstats.spells.spells import Event, Spells

__all__ = ["Event", "Spells"]
