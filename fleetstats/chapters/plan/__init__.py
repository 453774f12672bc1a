"""What it would take to show more."""

from fleetstats.chapters.plan.compute import plan_evidence
from fleetstats.chapters.plan.values import Plan

__all__ = ["Plan", "plan_evidence"]
