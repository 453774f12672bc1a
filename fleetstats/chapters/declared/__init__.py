"""The question as declared before the records were drawn, and what was changed since."""

from fleetstats.chapters.declared.chapter import chapter_declared, find_standing, say_standing
from fleetstats.chapters.declared.values import DeclaredQuestion
from fleetstats.chapters.declared.words import declared_lines, late_line

__all__ = [
    "DeclaredQuestion",
    "chapter_declared",
    "declared_lines",
    "find_standing",
    "late_line",
    "say_standing",
]
