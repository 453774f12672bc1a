"""Floor 0: what everything stands on. Values, errors, units, provenance, seeds."""

from fleetstats.core.errors import (
    ArgumentError,
    ArgumentTypeError,
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
    "ArgumentError",
    "ArgumentTypeError",
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
