"""From records of engine hours and removals to advisable overhaul hours, with their evidence.

One call to a floor: `read_study`, `read_records`, `audit_records`, `build_spells`, `fit_weibull`,
`band`, `advise_hours`, `compose_report`, `write_report`; `analyse` runs them all. Lives in plain
arrays need no folder: `advise`, `claim`, `plan`. The names stand by group in `names.py`; they are
loaded on first use, so that the import stays quick.
"""

from __future__ import annotations

import importlib
from typing import Any

from fleetstats.names import GROUPS, RETIRED

__version__ = "0.1.0"

_HOME = {name: home for group in GROUPS.values() for name, home in group.items()}

__all__ = sorted(_HOME)


def __getattr__(name: str) -> Any:
    if name in RETIRED:
        name = _in_place_of(name)
    if name not in _HOME:
        raise AttributeError(f"module 'fleetstats' has no attribute '{name}'")
    module, _, inner = _HOME[name].partition(":")
    return getattr(importlib.import_module(f"fleetstats.{module}"), inner or name)


def _in_place_of(name: str) -> str:
    """Return the name in place of a retired one, and warn whoever asked."""
    import warnings

    new, since, gone = RETIRED[name]
    warnings.warn(
        f"fleetstats.{name} is called {new} since {since}, and is gone in {gone}.",
        DeprecationWarning,
        stacklevel=3,
    )
    return new


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
