"""From records of engine hours and removals to advisable overhaul hours, with their evidence.

One call to a floor: `read_study`, `read_records`, `audit_records`, `build_spells`, `fit_weibull`,
`band`, `advise_hours`, `compose_report`, `write_report`; `analyse` runs them all. Names are loaded
on first use, so that the import stays quick.
"""

from __future__ import annotations

import importlib
from typing import Any

__version__ = "0.1.0"

_HOME = {
    "read_study": "study.study",
    "read_records": "records.readers",
    "audit_records": "records.audit.audit",
    "propose_mends": "records.mending.propose",
    "take_mends": "records.mending.take",
    "build_spells": "spells.build",
    "Spells": "spells.spells",
    "Event": "spells.spells",
    "estimate_product_limit": "survival.counting.product_limit",
    "estimate_exposure": "survival.counting.exposure",
    "fit_weibull": "survival.weibull.fit_weibull",
    "fit_family": "survival.families.families",
    "fit_families": "survival.families.families",
    "fit_two_stress": "survival.stress.two_stress",
    "quote_two_stress": "survival.stress.two_stress_at",
    "second_opinions": "survival.second_opinion",
    "Quantity": "bands.quantity",
    "Interval": "bands.interval",
    "Band": "bands.interval",
    "band": "bands.choose",
    "band_curve": "bands.choose",
    "quote": "advice.quotes.quote",
    "advise_hours": "advice.advise",
    "advise_claim": "chapters.claim.compute",
    "plan_evidence": "chapters.plan.compute",
    "analyse": "studies.analyse",
    "compose_report": "chapters.compose",
    "write_report": "report.write",
}

__all__ = sorted(_HOME)


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'fleetstats' has no attribute '{name}'")
    return getattr(importlib.import_module(f"fleetstats.{_HOME[name]}"), name)


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
