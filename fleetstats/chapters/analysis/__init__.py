"""Fit, families, routes and their sensitivity."""

from fleetstats.chapters.analysis.figures import risk_figure, survival_figure
from fleetstats.chapters.analysis.section import method_words, say_beside_advice

__all__ = ["method_words", "risk_figure", "say_beside_advice", "survival_figure"]
