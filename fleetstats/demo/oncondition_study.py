"""The on-condition demo as a study folder."""

from __future__ import annotations

import csv
import datetime as dt
import io

from fleetstats.demo.oncondition import (
    NO_WARNING,
    SEED,
    TrueEngine,
    draw_bench,
    draw_checks,
    draw_fleet,
    draw_leakdown,
)

ANALYSIS_DATE = dt.date(2026, 9, 30)

STUDY = """\
# An invented study: the fictional Ostrel T4 flown without a fixed overhaul time, on its checks.
# Everything was drawn from a truth that fleetstats/demo/oncondition.py states.

[study]
title = "Ostrel T4 on condition: are the checks frequent enough?"
asked_by = "type club, for its engineers"
reader = "club"
analysis_date = 2026-09-30
claimed_interval_h = 1200
seed = 52728

[question]
name = "engine failure in service"
level = "confirmed-removal"
causes = ["exhaust valve", "piston", "cam follower", "crankshaft"]

[check]
interval_h = 50
detection = 0.8
undetectable_causes = ["crankshaft"]

[targets]
risk_per_check = 0.015
reliability = 0.90

[cost]
ratio = 4
planned = 14000
currency = "EUR"

[delay]
arrival = "weibull"
accepted_share = 0.30
cost_check = 220
cost_repair = 1800
cost_failure = 56000

[leakdown]
makers_limit = 62
makers_source = "invented manual, chapter 7"

[bench]
stress_name = "fillet stress, MPa"
life_unit = "cycles"
service_stress = 210
cycles_per_hour = 8000
cycles_per_hour_low = 4000
cycles_per_hour_high = 12000
mode = "fillet fatigue"
field_causes = ["crankshaft"]
field_mode_proof = "fractography of each broken crankshaft (invented)"

[forecast]
months = 12
planned_overhaul_h = 1800
repair_months = 3

[[records]]
file = "lives.csv"
shape = "lives"
source = "club register"

[[records]]
file = "checks.csv"
shape = "checks"
source = "check sheets"

[[records]]
file = "leakdown.csv"
shape = "leakdown"
source = "leak-down sheets"

[[records]]
file = "bench.csv"
shape = "bench"
source = "builder's bench"
"""

README = """\
# on-condition: an invented fleet

Made by `fleetstats demo --on-condition`; drawn from the truth in
`fleetstats/demo/oncondition.py` with seed 52728: faults arise as (hours / 1,500 h) ^ 1.6, give
warning for 160 h on average (exponential) and are found at a 50-h check with chance 0.8;
crankshafts break without warning (Weibull, shape 2.2, 9,300 h); leak-down readings fall by 0.35
psi per 100 h, with 1.2 psi common to a check and a heavy-tailed noise of 0.9 psi; bench lives fall
with the 9th power of stress. No engine, club, shop or person in it exists. Free to use for any
purpose.
"""


def oncondition_files(seed: int = SEED) -> dict[str, str]:
    """Return the on-condition study: file name to text. The same seed gives the same text."""
    engines = draw_fleet(seed)
    return {
        "study.toml": STUDY,
        "README.md": README,
        "lives.csv": lives_text(engines),
        "checks.csv": _csv(draw_checks(engines, seed)),
        "leakdown.csv": _csv(draw_leakdown(engines, seed)),
        "bench.csv": _csv(draw_bench(seed)),
    }


def lives_text(engines: list[TrueEngine], *, day: dt.date = ANALYSIS_DATE) -> str:
    """Return the register as of a day on which each engine has its `now_h`."""
    return _csv([_life(e, day) for e in engines])


def _life(e: TrueEngine, day: dt.date) -> dict[str, object]:
    """One row of the register; dates follow from the hours and the engine's rate of use."""
    days = round(e.now_h / e.hours_per_day)
    new = day - dt.timedelta(days=days)
    end = new + dt.timedelta(days=round(e.end_h / e.hours_per_day))
    failed = bool(e.cause)
    return {
        "engine": e.name,
        "build": "standard",
        "entry_hours": e.entry_h or "",
        "exit_hours": e.end_h,
        "ending": "failed" if failed else "running",
        "cause": e.cause,
        "confirmed": "yes" if failed else "",
        "in_service_date": new.isoformat(),
        "last_reading_date": "" if failed else end.isoformat(),
        "ended_date": end.isoformat() if failed else "",
        "note": "no sign before" if e.cause == NO_WARNING else "",
    }


def _csv(rows: list[dict[str, object]]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, fieldnames=list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()
