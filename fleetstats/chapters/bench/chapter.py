"""The bench, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.chapters.bench.compute import judge_bench
from fleetstats.chapters.bench.values import Bench
from fleetstats.chapters.chapter import Base
from fleetstats.chapters.checks import condition_of
from fleetstats.core.value import Value


def chapter_bench(base: Base, done: Mapping[str, Value]) -> Bench | None:
    """Return what the bench says of service, tested against the field."""
    return judge_bench(condition_of(done).bench, base.spells, base.settings)
