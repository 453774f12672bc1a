"""Whom to ask for a fresh reading."""

from fleetstats.chapters.calls.compute import list_calls
from fleetstats.chapters.calls.values import Call, CallLine, CallList, Together
from fleetstats.chapters.calls.words import list_text

__all__ = ["Call", "CallLine", "CallList", "Together", "list_calls", "list_text"]
