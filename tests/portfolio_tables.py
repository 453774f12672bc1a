"""Invented portfolios for tests: a table of families, each of its own truth."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np

DAY = dt.date(2025, 12, 31)
STUDY = """\
[study]
title = "Parts of a fleet"
analysis_date = 2025-12-31
claimed_interval_h = 1200.0
{study}
[evidence]
resamples = 200

[portfolio]
family = "component"
{portfolio}
[[records]]
file = "parts.csv"
source = "shop"
{records}
"""
HEAD = "engine,component,exit hours,ending,in service date,last reading date,ended date"


def family_lines(
    name: str,
    n: int,
    *,
    seed: int,
    scale_h: float = 2500.0,
    shape: float = 2.0,
    worse: float = 1.0,
) -> list[str]:
    """Lines of `n` engines flown 1 h a day; in the last year their lives run `worse` as fast."""
    rng = np.random.default_rng(seed)
    out = []
    for i in range(n):
        age = int(rng.integers(800, 1500))
        born = DAY - dt.timedelta(days=age)
        # unit exponential hazard; in the last 365 days it grows `worse` times as fast
        goal = rng.standard_exponential()
        old = age - 365

        def hazard(t: float, old: int = old) -> float:
            base = (min(t, old) / scale_h) ** shape
            return float(base + worse * max((t / scale_h) ** shape - (old / scale_h) ** shape, 0.0))

        died = next((t for t in range(1, age + 1) if hazard(t) >= goal), None)
        end = born + dt.timedelta(days=died or age)
        tail = f",{end.isoformat()}" if died else ","
        out.append(f"{name}-{i},{name},{died or age},{'failed' if died else 'running'},"
                   f"{born.isoformat()},{end.isoformat()}{tail}")  # fmt: skip
    return out


def write_table(folder: Path, lines: list[str], *, study: str = "", portfolio: str = "",
                records: str = "", head: str = HEAD) -> Path:  # fmt: skip
    """Write a portfolio table and its study file."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "parts.csv").write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")
    text = STUDY.format(study=study, portfolio=portfolio, records=records)
    (folder / "study.toml").write_text(text, encoding="utf-8")
    return folder
