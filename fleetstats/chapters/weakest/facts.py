"""What the rules of the weakest points read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

from fleetstats.advice.advice import Horizon, Verdict
from fleetstats.chapters.weakest.scale import BoundScale
from fleetstats.core.value import Value
from fleetstats.study.settings import Settings

T = TypeVar("T", bound=Value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """A verdict on a claim with the chapters beside it.

    `n_failed` are the failures in question; `level` the two-sided confidence of the verdict.
    """

    verdict: Verdict
    horizon: Horizon
    settings: Settings
    chapters: Mapping[str, Value]
    n_failed: float
    scale: BoundScale

    def chapter(self, key: str, kind: type[T]) -> T | None:
        """Return the value of a chapter; None where it was not worked out."""
        found = self.chapters.get(key)
        return found if isinstance(found, kind) else None

    @property
    def shown(self) -> bool:
        """Return whether the claim is supported."""
        return self.verdict.word == "supported"

    @property
    def against(self) -> bool:
        """Return whether the bounds contradict the claim: then the lower bound is what counts."""
        return self.scale.word == "contradicted"

    @property
    def open(self) -> bool:
        """Return whether the bounds neither support the claim nor contradict it."""
        return self.scale.word not in ("supported", "contradicted")

    @property
    def error(self) -> float:
        """Return the one-sided chance of error that the verdict's bounds allow."""
        return 0.5 * (1.0 - self.verdict.reliability.level)
