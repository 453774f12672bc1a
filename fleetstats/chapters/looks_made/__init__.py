"""Earlier looks at the same fleet: what was asked, what it said, what was changed between."""

from fleetstats.chapters.looks_made.chapter import chapter_looks
from fleetstats.chapters.looks_made.joined import with_looks_made
from fleetstats.chapters.looks_made.present import begin_look, look_of_claim, look_of_study
from fleetstats.chapters.looks_made.values import LooksMade, ToldLook

__all__ = [
    "LooksMade",
    "ToldLook",
    "begin_look",
    "chapter_looks",
    "look_of_claim",
    "look_of_study",
    "with_looks_made",
]
