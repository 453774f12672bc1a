"""How one key of the study file is declared: meaning, limits, unit, allowed words."""

from __future__ import annotations

from dataclasses import field
from typing import Any, Final

FACT: Final = "fact"
"""Role of a key that says what is asked, of whom, of which files, or what is known beside them:
another value is another question, no departure from a way of answering it."""

VERDICT: Final = "verdict"
"""Role of a key whose value can turn the verdict on a claim: what counts, how the records are read,
how sure the answer must be and what is believed beforehand."""

OTHER: Final = "other"
"""Role of every other key: it changes what is shown beside the verdict, or its cost."""


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
    role: str = OTHER,
) -> Any:
    """Declare one key of the study file: meaning, limits, unit, allowed words, and its role.

    `role` is `FACT`, `VERDICT` or `OTHER`: whether another value than the default is a departure,
    and whether one that can turn the verdict.
    """
    meta = {
        "doc": doc,
        "low": low,
        "high": high,
        "open_low": open_low,
        "open_high": open_high,
        "unit": unit,
        "choices": choices,
        "required": required,
        "role": role,
    }
    if factory is not None:
        return field(default_factory=factory, metadata=meta)
    return field(default=default, metadata=meta)
