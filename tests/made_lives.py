"""Single lives made for tests of limits; none is of a real engine."""

from __future__ import annotations

import datetime as dt
from typing import Any

from fleetstats.records.life import LifeRow, Origin

DAY = dt.date(2026, 1, 1)
"""Analysis date of `made_settings`."""


def life(engine: str = "E-1", exit_h: float = 500.0, ending: str = "running", **more: Any) -> Any:
    return LifeRow(origin=Origin(file="made.csv", row=2), engine=engine, exit_h=exit_h,
                   ending=ending, **{"entry_h": 0.0, **more})  # fmt: skip


def before(days: int) -> dt.date:
    return DAY - dt.timedelta(days=days)


def codes(found: Any) -> list[str]:
    return [f.code for f in found]
