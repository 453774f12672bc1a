"""Made fleets with readings of all ages, and what fresh readings would really tell.

Each engine flies at a rate of its own; it was read at some day before today. What failed by then
is in the records, what failed since is not: there the records say "running". Invented, no source.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np

from fleetstats.chapters.calls import CallList, list_calls
from fleetstats.chapters.calls.answers import answered
from fleetstats.chapters.calls.weigh import Rule
from fleetstats.chapters.calls.whom import find_asked
from fleetstats.studies.single import read_base
from fleetstats.study.study import read_study

TODAY = dt.date(2026, 6, 30)
STUDY = f"""\
[study]
title = "Made"
analysis_date = {TODAY}
claimed_interval_h = 1200
[evidence]
resamples = 200
[[records]]
file = "lives.csv"
source = "made"
"""


def write_stale_fleet(
    at: Path,
    rng: np.random.Generator,
    *,
    engines: int,
    chance: float,
    shape: float,
    most_years: float,
) -> dict[str, tuple[float, bool]]:
    """Write a study whose readings are up to `most_years` old; return hours and fates today.

    A share `chance` of engines fails by 1,200 h under a Weibull law of this shape.
    """
    scale = 1200.0 / (-np.log1p(-chance)) ** (1.0 / shape)
    years = rng.uniform(2.0, 12.0, engines)
    use = 120.0 * rng.lognormal(0.0, 0.4, engines)
    old = np.minimum(rng.uniform(0.0, most_years, engines), 0.8 * years)
    life = scale * rng.weibull(shape, engines)
    rows = ["engine,exit_hours,ending,cause,in_service_date,last_reading_date,ended_date"]
    truth: dict[str, tuple[float, bool]] = {}
    for i in range(engines):
        begun = TODAY - dt.timedelta(days=round(365.25 * years[i]))
        read = TODAY - dt.timedelta(days=round(365.25 * old[i]))
        read_h = use[i] * (read - begun).days / 365.25
        today_h = use[i] * (TODAY - begun).days / 365.25
        if life[i] <= read_h:
            on = begun + dt.timedelta(days=round(365.25 * life[i] / use[i]))
            rows.append(f"E{i},{life[i]:.2f},failed,piston,{begun},,{on}")
            continue
        rows.append(f"E{i},{read_h:.2f},running,,{begun},{read},")
        truth[f"E{i}"] = (min(float(life[i]), today_h), bool(life[i] <= today_h))
    at.mkdir(parents=True, exist_ok=True)
    (at / "study.toml").write_text(STUDY, encoding="utf-8")
    (at / "lives.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return truth


def reveal(
    at: Path, truth: dict[str, tuple[float, bool]], most: int
) -> tuple[CallList, float, int]:
    """Return the list of a made fleet, the bound once its first calls are answered, and failures.

    The answers are the truth, however it was expected.
    """
    base = read_base(read_study(at))
    calls = list_calls(base, most=most)
    asked = {x.engine: x for x in find_asked(base).asked}
    names = [c.name for c in calls.calls[:most]]
    ends = np.array([truth[n][0] for n in names])
    failed = np.array([truth[n][1] for n in names])
    rule = Rule(settings=base.settings, hours=calls.hours,
                confidence=0.5 * (1.0 + base.settings.study.confidence))  # fmt: skip
    told = rule.of(answered(base.spells, [asked[n] for n in names], ends, failed))
    return calls, told, int(failed.sum())
