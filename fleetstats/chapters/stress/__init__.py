"""How often the rule would be wrong on fleets like this one, were lives not as it assumes."""

from fleetstats.chapters.stress.chapter import with_stress
from fleetstats.chapters.stress.compute import DEFAULT_FLEETS, stress_claim
from fleetstats.chapters.stress.values import Stress, StressedTruth
from fleetstats.chapters.stress.words import stress_lines

__all__ = [
    "DEFAULT_FLEETS",
    "Stress",
    "StressedTruth",
    "stress_claim",
    "stress_lines",
    "with_stress",
]
