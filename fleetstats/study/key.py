"""How one key of the study file is declared: meaning, limits, unit, allowed words."""

from __future__ import annotations

from dataclasses import field
from typing import Any


def key(
    doc: str,
    *,
    default: Any = None,
    low: float | None = None,
    high: float | None = None,
    open_low: bool = False,
    open_high: bool = False,
    unit: str = "",
    choices: tuple[str, ...] = (),
    required: bool = False,
    factory: Any = None,
) -> Any:
    """Declare one key of the study file: meaning, limits, unit, allowed words."""
    meta = {
        "doc": doc,
        "low": low,
        "high": high,
        "open_low": open_low,
        "open_high": open_high,
        "unit": unit,
        "choices": choices,
        "required": required,
    }
    if factory is not None:
        return field(default_factory=factory, metadata=meta)
    return field(default=default, metadata=meta)
