"""The months between studies: does what comes in still agree with what the last one said?"""

from fleetstats.studies.watch.compute import watch_fleet
from fleetstats.studies.watch.values import FleetWatch

__all__ = ["FleetWatch", "watch_fleet"]
