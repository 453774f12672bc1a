"""The brief: question, answer, weakest points and what follows, on two pages to sign."""

from fleetstats.chapters.brief.compose import compose_brief

__all__ = ["compose_brief"]
