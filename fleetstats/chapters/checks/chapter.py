"""Checks and the interval between them, as chapters of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.chapter import Base
from fleetstats.chapters.checks.compliance import Compliance, count_checks
from fleetstats.chapters.checks.compute import advise_check_interval
from fleetstats.chapters.checks.lives import FOUND_ENDINGS, build_check_lives
from fleetstats.chapters.checks.values import CheckInterval
from fleetstats.core.value import Value
from fleetstats.records.condition.condition import CONDITION_SHAPES, Condition, read_condition


def chapter_condition(base: Base, _done: Mapping[str, Value]) -> Condition | None:
    """Return what was read of checks, leak-down sheets and bench runs; None without such files."""
    if not base.study.of_shape(*CONDITION_SHAPES):
        return None
    return read_condition(base.study, base.built.rows)


def condition_of(done: Mapping[str, Value]) -> Condition:
    """Return the condition records among the chapters before; empty where there are none."""
    found = done.get("condition")
    return found if isinstance(found, Condition) else Condition(checks=(), leakdown=(), bench=())


def chapter_compliance(base: Base, done: Mapping[str, Value]) -> Compliance | None:
    """Return checks due beside checks done; None without check records."""
    condition = done.get("condition")
    if not isinstance(condition, Condition) or not condition.checks:
        return None
    return count_checks(base.built.rows, condition.checks, base.settings)


def chapter_check_interval(base: Base, done: Mapping[str, Value]) -> CheckInterval | None:
    """Return whether the checks are frequent enough.

    None where neither a check sheet nor a fault found at a check is in the records: then nothing
    tells what the checks find.
    """
    checks = tuple(c for c in condition_of(done).checks if c.result)
    if not checks and not any(r.ending in FOUND_ENDINGS for r in base.built.rows):
        return None
    lives = build_check_lives(base.built.rows, checks, base.settings)
    return advise_check_interval(lives, base.settings) if len(lives) else None
