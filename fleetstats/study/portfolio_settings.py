"""[portfolio]: one table that holds many component families."""

from __future__ import annotations

from dataclasses import dataclass

from fleetstats.study.key import FACT, key


@dataclass(frozen=True, slots=True, kw_only=True)
class PortfolioKeys:
    """[portfolio]: a table of many component families, each studied by itself."""

    family: str = key(
        "Header of the column that names the family of each row. The files then hold many "
        "families, and 'fleetstats portfolio' studies them.",
        default="",
        role=FACT,
    )
    false_discovery: float = key(
        "Share of false alarms accepted among families called worse than the year before.",
        default=0.10,
        low=0.0,
        high=1.0,
        open_low=True,
        open_high=True,
    )
