"""The on-condition fleet as its register stood a year earlier, for comparing two studies.

``python tests/tools/last_year.py [FOLDER]`` writes it; by default into
``datasets/on-condition-2025``.
"""

from __future__ import annotations

import datetime as dt
import sys
from dataclasses import replace
from pathlib import Path

from fleetstats.demo.oncondition import SEED, TrueEngine, draw_fleet
from fleetstats.demo.oncondition_study import ANALYSIS_DATE, STUDY, lives_text

DAYS = 365
THEN = ANALYSIS_DATE - dt.timedelta(days=DAYS)
LAXER = ("reliability = 0.90", "reliability = 0.85")
"""A year ago fewer engines were asked to reach overhaul, so that a comparison has a change of
settings."""

README = """\
# on-condition-2025: the on-condition fleet a year earlier

The register of `on-condition` as it stood on {then}: the same invented engines at the hours they
had then, without those that had not joined, and with the target of that year (85 % reach overhaul,
now 90 %). For `fleetstats compare datasets/on-condition-2025 datasets/on-condition`. Free to use
for any purpose.
"""


def last_year_files(seed: int = SEED) -> dict[str, str]:
    """Return the study of a year ago: file name to text."""
    engines = [e for e in (_then(e) for e in draw_fleet(seed)) if e is not None]
    head, first, *_ = STUDY.split("[[records]]")
    study = f"{head}[[records]]{first}".rstrip() + "\n"
    for old, new in (
        LAXER,
        (f"analysis_date = {ANALYSIS_DATE}", f"analysis_date = {THEN}"),
    ):
        if old not in study:
            raise ValueError(f"The demo's study no longer holds '{old}'.")
        study = study.replace(old, new)
    return {
        "study.toml": study,
        "README.md": README.format(then=THEN),
        "lives.csv": lives_text(engines, day=THEN),
    }


def _then(e: TrueEngine) -> TrueEngine | None:
    """Return an engine as it stood a year ago; None where it was not watched by then."""
    now_h = round(e.now_h - DAYS * e.hours_per_day, 1)
    if now_h <= max(e.entry_h, 0.0):
        return None
    if e.end_h <= now_h:
        return replace(e, now_h=now_h)
    return replace(e, now_h=now_h, end_h=now_h, cause="")


if __name__ == "__main__":
    out = Path(sys.argv[1] if len(sys.argv) > 1 else "datasets/on-condition-2025")
    for name, text in last_year_files().items():
        (out / name).write_text(text, encoding="utf-8")
