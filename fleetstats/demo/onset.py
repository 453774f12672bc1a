"""A fleet in which something new begins: lives with dates, drawn from a stated truth.

An invented scenario: parachute clubs fly the Halden H5, an engine that exists only here. Until
`ONSET` its failures wear out slowly; from that day on gudgeon-pin circlips let go in every engine,
whatever its age, at `ONSET_RATE_PER_H`. Nothing in it is taken from any real engine, shop or club.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from fleetstats.core.seeds import stream

SEED = 41_312
FIRST_DAY = dt.date(2013, 4, 1)
ANALYSIS_DATE = dt.date(2026, 3, 31)
ONSET = dt.date(2024, 11, 1)
ONSET_RATE_PER_H = 1.0 / 3_500.0
ONSET_CAUSE = "gudgeon pin"
CLAIM_H = 1000.0
LIFE_SHAPE, LIFE_SCALE_H = 2.2, 5_200.0
CAUSES, CAUSE_SHARES = ("piston", "valve train", "main bearing"), (0.4, 0.35, 0.25)
LEAVE_MEAN_H = 9_000.0
USE_H_PER_YEAR = 165.0
SOURCES = ("coast clubs", "plain clubs")
N_ENGINES = 260


@dataclass(frozen=True, slots=True, kw_only=True)
class OnsetLife:
    """What becomes of one engine, whenever one looks; days are ordinals, hours since new."""

    engine: str
    source: str
    born_day: int
    joined_day: int
    hours_per_day: float
    end_h: float
    ending: str
    cause: str

    def age_on(self, day: int) -> float:
        """Return hours since new on a day, were it still flying."""
        return (day - self.born_day) * self.hours_per_day


def reliability(hours: float, *, since_onset: bool) -> float:
    """Return the true share that reaches `hours`, before the onset or for a life begun after."""
    rate = ONSET_RATE_PER_H if since_onset else 0.0
    return float(np.exp(-((hours / LIFE_SCALE_H) ** LIFE_SHAPE) - rate * hours))


def life(p: float, *, since_onset: bool) -> float:
    """Return the hours by which a share `p` of engines has truly failed."""
    low, high = 1.0, 30_000.0
    for _ in range(200):
        mid = 0.5 * (low + high)
        low, high = (mid, high) if 1 - reliability(mid, since_onset=since_onset) < p else (low, mid)
    return 0.5 * (low + high)


def draw_onset_lives(
    n: int = N_ENGINES, *, seed: int = SEED, rate_per_h: float = ONSET_RATE_PER_H
) -> tuple[OnsetLife, ...]:
    """Draw engines, some older than the records, with what ends each of them.

    Parameters
    ----------
    n : int
        Engines built.
    seed : int
        Names the stream of draws.
    rate_per_h : float
        Of the mode from the onset on; 0 for a fleet in which nothing begins.
    """
    rng = stream(seed, "demo-onset")
    first, last = FIRST_DAY.toordinal(), ANALYSIS_DATE.toordinal()
    out = []
    for i in range(n):
        born = int(rng.integers(first - 1400, last - 200))
        per_day = float(rng.lognormal(np.log(USE_H_PER_YEAR / 365.25), 0.35))
        wear = LIFE_SCALE_H * float(rng.exponential()) ** (1.0 / LIFE_SHAPE)
        cause = str(rng.choice(CAUSES, p=CAUSE_SHARES))
        gap = float(rng.exponential())
        left = LEAVE_MEAN_H * float(rng.exponential())
        source = SOURCES[int(rng.random() < 0.45)]
        began = max(ONSET.toordinal() - born, 0) * per_day
        new = began + gap / rate_per_h if rate_per_h > 0 else np.inf
        end = min(wear, new, left)
        ending, why = ("removed", "sold") if end == left else ("failed", cause)
        if end == new:
            why = ONSET_CAUSE
        out.append(
            OnsetLife(
                engine=f"H5-{301 + i}",
                source=source,
                born_day=born,
                joined_day=max(born, first),
                hours_per_day=per_day,
                end_h=end,
                ending=ending,
                cause=why,
            )
        )
    return tuple(out)


def onset_rows(
    lives: tuple[OnsetLife, ...], on: dt.date, *, source: str = "", read_on: dt.date | None = None
) -> list[list[str]]:
    """Return the rows that a club has on a day: head, then one to an engine heard of.

    Parameters
    ----------
    lives : tuple of OnsetLife
        Engines with what ends them.
    on : date
        What ended by then is known.
    source : str
        Engines of one source only; all where blank.
    read_on : date, optional
        Day on which running engines were last read; `on` where not given.
    """
    today, read = on.toordinal(), (read_on or on).toordinal()
    rows = [["engine", "entry_hours", "exit_hours", "ending", "cause", "in_service_date",
             "observed_from_date", "last_reading_date", "ended_date"]]  # fmt: skip
    for x in lives:
        entry = max(0.0, round(x.age_on(x.joined_day), 1))
        end_day = x.born_day + int(np.ceil(x.end_h / x.hours_per_day))
        if (source and x.source != source) or end_day <= x.joined_day or x.joined_day >= read - 5:
            continue
        over = end_day <= today
        day = end_day if over else read
        hours = round(x.end_h if over else x.age_on(day), 1)
        if hours <= entry + 0.5:
            continue
        dates = [dt.date.fromordinal(d).isoformat() for d in (x.born_day, x.joined_day, day)]
        rows.append([x.engine, f"{entry:.1f}" if entry > 0 else "", f"{hours:.1f}",
                     x.ending if over else "running", x.cause if over else "",
                     *dates[:2], "" if over else dates[2], dates[2] if over else ""])  # fmt: skip
    return rows
