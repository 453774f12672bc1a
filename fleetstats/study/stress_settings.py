"""[stress]: whether a study tries its rule on made-up fleets of its own design."""

from __future__ import annotations

from dataclasses import dataclass

from fleetstats.study.key import key


@dataclass(frozen=True, slots=True, kw_only=True)
class StressKeys:
    """[stress]: fleets made up under stated truths, to see how often a claim would be wrong."""

    fleets: int = key(
        "Fleets made up under each truth for the report's annex; 0 leaves it out.",
        default=0,
        low=0,
        high=100_000,
    )
