"""The chapter on reliability growth: builds in the order in which they came."""

from __future__ import annotations

import datetime as dt

from fleetstats.records.life import LifeRow
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.groups.growth import Growth, estimate_growth

__all__ = ["Growth", "advise_growth", "calendar_order"]


def calendar_order(rows: tuple[LifeRow, ...]) -> tuple[str, ...]:
    """Return builds by the middle of their in-service dates; those without dates are left out."""
    dates: dict[str, list[dt.date]] = {}
    for row in rows:
        if row.build and row.in_service is not None:
            dates.setdefault(row.build, []).append(row.in_service)
    middle = {build: sorted(d)[len(d) // 2] for build, d in dates.items()}
    return tuple(sorted(middle, key=lambda b: (middle[b], b)))


def advise_growth(spells: Spells, rows: tuple[LifeRow, ...], settings: Settings) -> Growth | None:
    """Return growth over build standards; None with fewer than two builds that can be ordered.

    Parameters
    ----------
    spells : Spells
        Lives for the study's question.
    rows : tuple of LifeRow
        The rows behind them, for their dates.
    settings : Settings
        ``groups.build_order`` where stated, else dates decide; confidence.
    """
    order = settings.groups.build_order or calendar_order(rows)
    present = set(spells.build.tolist())
    if sum(b in present for b in order) < 2:
        return None
    return estimate_growth(
        spells, tuple(order), level=settings.study.confidence, shapes=settings.evidence.shapes
    )
