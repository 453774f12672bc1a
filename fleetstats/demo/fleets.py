"""The two demo studies as folders: tow clubs with failures, and a quiet fleet with none."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from fleetstats.core.errors import ReportError
from fleetstats.core.files import write_whole
from fleetstats.core.seeds import stream
from fleetstats.demo.truth import CLAIM_H, SEED, draw_lives
from fleetstats.demo.write import ANALYSIS_DATE, FIRST_DAY, write_ledger, write_lowland, write_north

N_TOW = 180
N_QUIET = 260

TOW_STUDY = """\
# An invented study: glider-tow clubs that fly the fictional Ostrel T4 in two build standards.
# All lives were drawn from a truth that fleetstats/demo/truth.py states.

[study]
title = "Ostrel T4 in glider towing: when is overhaul advisable?"
asked_by = "type club, for its members and their insurer"
decided_by = "technical officer of the type club"
reader = "club"
analysis_date = 2026-09-30
claimed_interval_h = 1200
seed = 41207

[hours]
meter = "flight"
basis = "since-new"

[hours.factors]
tach = { factor = 1.05, low = 1.00, high = 1.10 }

[question]
name = "internal engine failure"
level = "beyond-limits"
causes = ["piston", "valve train", "main bearing", "crankcase", "crankshaft"]

[check]
interval_h = 50
undetectable_causes = ["crankshaft"]

[targets]
risk_per_check = 0.01
reliability = 0.90

[cost]
ratio = 4
planned = 14000
currency = "EUR"

[fleet]
built = 240
hours_per_year = 135

[treat]
hours-unreadable = "set-aside"
exit-before-entry = "set-aside"
engine-missing = "set-aside"
entry-missing = "set-aside"
date-future = "set-aside"
duplicate-life = "set-aside"
log-removed-twice = "set-aside"

[[records]]
file = "ledger.csv"
shape = "log"
source = "builder's ledger"
meter = "flight"

[[records]]
file = "north.csv"
shape = "lives"
source = "north club"
meter = "tach"

[records.columns]
engine = "Serial"
build = "Standard"
entry_hours = "Tach when joined"
exit_hours = "Tach now or at end"
last_good_hours = "Last clean check"
ending = "Outcome"
cause = "Reason"
last_reading_date = "Date of reading"
note = "Remarks"

[[records]]
file = "lowland.csv"
shape = "lives"
source = "lowland club"
meter = "flight"
"""

QUIET_STUDY = """\
# An invented study: a builder's fleet of the fictional Ostrel T4 in which nothing has failed yet.

[study]
title = "Ostrel T4, builder's fleet: none failed; what may be claimed?"
asked_by = "builder"
decided_by = "quality manager of the builder"
reader = "builder"
analysis_date = 2026-09-30
claimed_interval_h = 1200
seed = 41208

[question]
name = "internal engine failure"

[targets]
reliability = 0.95

[fleet]
built = 260
hours_per_year = 135

[base_rate]
per_10000_h = 1.2
source = "invented for the demo; put a published occurrence rate here"
definition = "engine failures and malfunctions of all kinds"

[[records]]
file = "fleet.csv"
shape = "lives"
source = "builder's ledger"
"""

README_TOW = """\
# tow-clubs: an invented fleet

Made by `fleetstats demo`; drawn from the truth in `fleetstats/demo/truth.py` with seed {seed}:
Weibull lives, shape 2.6, scale 2,800 h (standard, 60 %) and 2,350 h (uprated, 40 %); 45 % of
faults are caught by a 50-h check; turbochargers, prop strikes and sales end other lives; clubs hear
of an engine only when it has hours on it. No engine, shop, club or person in it exists.
`ledger.csv` is a log, `north.csv` a return in tach hours with decimal commas, `lowland.csv` one
with rounded and stale readings. The mistakes in them are planted (`fleetstats/demo/write.py`).
Free to use for any purpose.
"""

README_QUIET = """\
# quiet-fleet: an invented fleet with no failure

Made by `fleetstats demo --quiet-fleet`, seed {seed}: 260 engines followed from new, the oldest past
1,500 h, none failed. No engine, shop or person in it exists. Free to use for any purpose.
"""


def tow_files() -> dict[str, str]:
    """Return the tow-clubs study: file name to text."""
    lives = draw_lives(N_TOW, last_day=(ANALYSIS_DATE - FIRST_DAY).days)
    by = {s: [x for x in lives if x.source == s] for s in ("ledger", "north", "lowland")}
    return {
        "study.toml": TOW_STUDY,
        "ledger.csv": write_ledger(by["ledger"]),
        "north.csv": write_north(by["north"]),
        "lowland.csv": write_lowland(by["lowland"], by["ledger"]),
        "README.md": README_TOW.format(seed=SEED),
    }


def quiet_files() -> dict[str, str]:
    """Return the quiet-fleet study: 260 running engines, the oldest past 1,500 h."""
    rng = stream(SEED, "quiet-fleet")
    ages = np.sort(np.round(1620 * rng.beta(1.15, 1.25, N_QUIET), 1))
    ages = np.maximum(ages, 12.0)
    rows = ["engine,build,entry_hours,exit_hours,ending,last_reading_date"]
    order = rng.permutation(N_QUIET)
    for i, k in enumerate(order):
        build = "uprated" if rng.random() < 0.3 else "standard"
        back = int(rng.integers(5, 200))
        date = np.datetime64(ANALYSIS_DATE) - back
        rows.append(f"OT4-{1001 + i},{build},,{ages[k]:.1f},running,{date}")
    return {
        "study.toml": QUIET_STUDY,
        "fleet.csv": "\n".join(rows) + "\n",
        "README.md": README_QUIET.format(seed=SEED),
    }


def write_demo(
    folder: Path,
    *,
    quiet_fleet: bool = False,
    on_condition: bool = False,
    new_mode: bool = False,
) -> Path:
    """Write a demo study into `folder`; files already there must be the same.

    Raises
    ------
    ReportError
        If a file of that name with other content is in the way; nothing is written then.
    """
    if on_condition:
        from fleetstats.demo.oncondition_study import oncondition_files

        files = oncondition_files()
    elif new_mode:
        from fleetstats.demo.onset_study import onset_files

        files = onset_files()
    else:
        files = quiet_files() if quiet_fleet else tow_files()
    for name, text in files.items():
        path = folder / name
        if path.exists() and path.read_text(encoding="utf-8") != text:
            raise ReportError(
                f"{path} is in the way: it is not the demo's file.",
                "Name another folder with --into.",
            )
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        write_whole(folder / name, text)
    return folder


__all__ = ["CLAIM_H", "quiet_files", "tow_files", "write_demo"]
