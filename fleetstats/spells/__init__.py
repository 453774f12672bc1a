"""Floor 2: lives of engines, from the start of observation to their end."""

from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells

__all__ = ["Event", "Spells"]
