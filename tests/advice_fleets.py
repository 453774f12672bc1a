"""Small made fleets and settings for the tests of advice; none is taken from a real fleet."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np

from fleetstats.records.life import LifeRow
from fleetstats.spells import Spells
from fleetstats.study.settings import (
    BaseRateKeys,
    CheckKeys,
    CostKeys,
    EvidenceKeys,
    FleetKeys,
    GroupKeys,
    HoursKeys,
    QuestionKeys,
    Settings,
    StudyKeys,
    TargetKeys,
)
from fleetstats.vocabulary.finding import Origin

TABLES: dict[str, Any] = {
    "check": CheckKeys,
    "cost": CostKeys,
    "evidence": EvidenceKeys,
    "fleet": FleetKeys,
    "base_rate": BaseRateKeys,
    "targets": TargetKeys,
    "hours": HoursKeys,
    "groups": GroupKeys,
    "question": QuestionKeys,
}


def made_settings(*, claim: float | None = 1200.0, **tables: dict[str, Any]) -> Settings:
    """Return settings with a claim of 1,200 h; `study` and other tables as keyword dictionaries."""
    study = {
        "title": "made",
        "analysis_date": dt.date(2026, 1, 1),
        "claimed_interval_h": claim,
        **tables.pop("study", {}),
    }
    return Settings(study=StudyKeys(**study), **{k: TABLES[k](**v) for k, v in tables.items()})


def reference_fleet(*, half: bool = False) -> Spells:
    """260 engines, ages evenly 50 to 1,450 h, none failed; `half`: each joined at half its age."""
    ages = np.linspace(50.0, 1450.0, 260)
    return Spells.of(0.5 * ages if half else 0.0, ages, np.zeros(260))


def young_fleet() -> Spells:
    """250 engines, none failed, the oldest past 1,500 h: common practice, no source."""
    return Spells.of(0.0, np.linspace(20.0, 1520.0, 250), np.zeros(250))


def made_fleet(
    n: int = 250,
    *,
    shape: float = 2.5,
    scale_h: float = 2500.0,
    seed: int = 1,
    late: float = 0.4,
    most_h: float = 1800.0,
) -> Spells:
    """Draw a fleet with late entries and staggered ends from stated truth."""
    rng = np.random.default_rng(seed)
    entry = rng.uniform(0.0, 800.0, n) * (rng.random(n) < late)
    stop = entry + rng.uniform(50.0, most_h, n)
    life = scale_h * ((entry / scale_h) ** shape + rng.exponential(size=n)) ** (1.0 / shape)
    return Spells.of(entry, np.minimum(life, stop), life <= stop)


def made_rows(spells: Spells, **columns: Any) -> tuple[LifeRow, ...]:
    """Return rows behind spells; each column is one value for all or a list."""
    out = []
    for i in range(len(spells)):
        own = {k: v[i] if isinstance(v, list) else v for k, v in columns.items()}
        base = {
            "origin": Origin(file="made.csv", row=i + 2),
            "engine": str(spells.unit[i]),
            "entry_h": float(spells.entry[i]),
            "exit_h": float(spells.exit_upper[i]),
            "ending": "failed" if spells.failed[i] else "running",
        }
        out.append(LifeRow(**{**base, **own}))
    return tuple(out)
