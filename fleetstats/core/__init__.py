"""Floor 0: what everything stands on. Values, errors, units, provenance, seeds."""

from fleetstats.core.errors import (
    BandError,
    DataError,
    FitError,
    FleetstatsError,
    NoMaximum,
    NotConverged,
    ReadError,
    RecordError,
    ReportError,
    SettingError,
    SpellError,
)
from fleetstats.core.value import Array, Value

__all__ = [
    "Array",
    "BandError",
    "DataError",
    "FitError",
    "FleetstatsError",
    "NoMaximum",
    "NotConverged",
    "ReadError",
    "RecordError",
    "ReportError",
    "SettingError",
    "SpellError",
    "Value",
]
