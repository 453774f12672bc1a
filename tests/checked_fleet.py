"""A large invented fleet whose faults are found at checks, for what must not stop or slow down.

Invented records with no source: lives of a Weibull, half of them followed from some age on, every
engine checked each 100 h from an age of its own.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from fleetstats.spells import Spells

CHECK_H = 100.0
STUDY = """\
[study]
title = "A large fleet on checks"
analysis_date = 2026-01-31
claimed_interval_h = 1000

[check]
interval_h = 100
detection = 0.8

[[records]]
file = "lives.csv"
source = "club"
"""


def checked_spells(
    n: int, seed: int, *, late: float = 0.5, exact: float = 0.2, check_h: float = CHECK_H
) -> Spells:
    """Return about `n` lives: a share `late` seen from an age on, a share `exact` of exact ages."""
    rng = np.random.default_rng(seed)
    failed_at = 1500.0 * rng.weibull(2.0, 3 * n)
    entry = np.where(rng.random(3 * n) < late, rng.uniform(0, 600, 3 * n), 0.0).round(1)
    seen = np.flatnonzero(failed_at > entry + 0.1)[:n]
    failed_at, entry = failed_at[seen], entry[seen]
    stop = np.maximum(rng.uniform(300, 2500, n), entry + 1.0)
    first = rng.uniform(0, check_h, n)
    low = np.floor((failed_at - first) / check_h) * check_h + first
    known = rng.random(n) < exact
    high = np.where(known, failed_at, low + check_h)
    low = np.where(known, failed_at, low)
    failed = failed_at < stop
    high = np.where(failed, high, stop).round(1)
    low = np.maximum(np.where(failed, low, stop).round(1), entry)
    return Spells.of(entry, high, failed, exit_lower=low)


def write_checked_study(folder: Path, n: int, seed: int) -> Path:
    """Write a study of `checked_spells` with its records into `folder`; return the folder."""
    lives = checked_spells(n, seed)
    rng = np.random.default_rng(seed + 1)
    causes = np.array(["piston", "exhaust valve", "cam follower"])[rng.integers(0, 3, len(lives))]
    lines = ["engine,entry_hours,last_good_hours,exit_hours,ending,cause,confirmed,build"]
    for i in range(len(lives)):
        good = f"{lives.exit_lower[i]:g}" if lives.interval_known[i] else ""
        end = f"failed,{causes[i]},yes" if lives.failed[i] else "running,,"
        build = "early" if i % 3 else "late"
        lines.append(f"K-{i:06d},{lives.entry[i]:g},{good},{lives.exit_upper[i]:g},{end},{build}")
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "lives.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    return folder
