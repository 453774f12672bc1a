"""What stretches and what shortens life."""

from fleetstats.chapters.covariates.asked import with_asked

__all__ = ["with_asked"]
