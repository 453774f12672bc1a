"""How long the parts of a study take, told before those that take long.

From unit costs measured on one processor of 2026, of made-up fleets with dates, causes, two builds
and two sources (`tests/bench/bench_costs.py`): an order of size for somebody who waits, no promise.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import exp, log
from typing import Final

from fleetstats.chapters.registry import CHAPTERS
from fleetstats.study.study import Study
from fleetstats.vocabulary.capitals import capital

TOLD_FROM_S: Final = 20.0
"""Seconds from which on a wait is announced; below, nobody has gone to look what is wrong."""

AT: Final = (20_000, 100_000)
"""Lives at which the costs were measured."""

LEAST_POWER: Final = 0.8
"""Of the lives: what grows more slowly up to `AT` lives does not beyond them."""

REPORT: Final = "report"

BYTES_OF_LIFE: Final = 62
"""Size of a line of the record files of which the costs were measured."""

CHUNKS_S_PER_MB: Final = 0.22
"""Seconds of reading a table by chunks, for each MB of text."""

LOG_S_PER_MB: Final = 0.7
"""Seconds of reading and auditing a log, for each MB of text: a line of it is an event, of which a
life has several (`tests/bench/bench_logs.py`; 0.9 at 20,000 events, less of longer logs)."""

STRESS_S: Final = (0.13, 0.40)
"""Seconds of one made-up fleet under every truth, of 250 and of 5,000 lives."""

WHOLE_S: Final = (2.03, 8.11)
"""Seconds of reading and auditing whole tables of `AT` lives."""

MEASURED: Final[Mapping[str, tuple[float, float]]] = {
    "pooling": (0.60, 1.77),
    "sources": (0.07, 0.67),
    "outlook": (0.76, 1.31),
    "forecast": (0.87, 1.34),
    "backtest": (0.22, 0.73),
    "stop-chance": (0.07, 0.13),
    "hidden": (0.17, 0.49),
    "plan": (0.11, 0.50),
    "calls": (0.73, 1.91),
    "causes": (0.93, 0.69),
    "tabulated": (0.46, 0.86),
    "effects": (0.23, 1.09),
    "since": (0.11, 0.56),
    "looking-back": (0.15, 0.88),
    REPORT: (5.1, 15.0),
}
"""Seconds of one processor by chapter, and of writing the report, at `AT` lives."""


def seconds_of(key: str, lives: float) -> float:
    """Return about how many seconds a chapter takes: a power of the lives, as measured.

    Between `LEAST_POWER` of the lives and their square; 0 for a chapter that never takes long.
    """
    return _grown(MEASURED[key], lives) if key in MEASURED else 0.0


def say_reading(study: Study, *, by_chunks: bool) -> str:
    """Return how long its record files take to be read, by their size; blank where not long.

    A table is read and audited by its lives, a log by its events.
    """
    sizes = [(f.shape, f.path.stat().st_size) for f in study.files if f.path.is_file()]
    size = sum(n for _, n in sizes)
    of_logs = sum(n for shape, n in sizes if shape == "log")
    if by_chunks:
        seconds = CHUNKS_S_PER_MB * size / 2**20
    else:
        lives = (size - of_logs) / BYTES_OF_LIFE
        seconds = _grown(WHOLE_S, lives) + LOG_S_PER_MB * of_logs / 2**20
    if seconds < TOLD_FROM_S:
        return ""
    return f"{capital(say_seconds(seconds))}: reading {size / 2**20:,.0f} MB of records."


def _grown(measured: tuple[float, float], lives: float) -> float:
    low, high = measured
    power = 1.0
    if lives > AT[0]:
        power = min(max(log(high / low) / log(AT[1] / AT[0]), LEAST_POWER), 2.0)
    return low * exp(power * log(max(lives, 1.0) / AT[0]))


def stage_words(key: str, lives: float) -> str:
    """Return what a waiting person is told of a chapter, with its cost where that is long."""
    seconds = seconds_of(key, lives)
    said = CHAPTERS[key].stage
    return said if seconds < TOLD_FROM_S else f"{said} (up to {say_seconds(seconds)})"


def say_costs(lives: int, keys: tuple[str, ...], fleets: int = 0) -> str:
    """Return how long these chapters take of so many lives; blank where that is not long.

    Parameters
    ----------
    lives : int
        Lives, not weighted.
    keys : tuple of str
        Chapters, and `REPORT` where it is written.
    fleets : int
        Fleets made up under each truth, where the study asks for that.
    """
    costs = {k: seconds_of(k, lives) for k in keys}
    if "stress" in keys:
        costs["stress"] = fleets * stress_seconds(lives)
    total = sum(costs.values())
    if total < TOLD_FROM_S:
        return ""
    long = sorted((k for k, s in costs.items() if s >= TOLD_FROM_S), key=lambda k: -costs[k])
    parts = [f"{_name(k)} {say_seconds(costs[k])}" for k in long]
    of_it = f", of it {', '.join(parts)}" if parts else ""
    return f"Up to {say_seconds(total)} of work on {lives:,} lives lie ahead{of_it}."


def stress_seconds(lives: int) -> float:
    """Return about how many seconds one made-up fleet of so many lives takes, all truths."""
    low, high = STRESS_S
    return low * exp(log(high / low) / log(5_000 / 250) * log(max(lives, 250) / 250))


def say_tasks(what: str, n: int, each_s: float, workers: int = 1) -> str:
    """Return how long equal tasks take, shared by some processes; blank where that is not long."""
    seconds = n * each_s / max(min(workers, n), 1)
    if seconds < TOLD_FROM_S:
        return ""
    return f"{capital(say_seconds(seconds))}: {what}."


def say_seconds(seconds: float) -> str:
    """Return a time in words, as coarse as it is known.

    >>> say_seconds(94), say_seconds(260), say_seconds(9000)
    ('about 90 s', 'about 4 min', 'about 2.5 h')
    """
    if seconds < 115:
        return f"about {10 * max(round(seconds / 10), 1)} s"
    if seconds < 5400:
        return f"about {seconds / 60:.0f} min"
    return f"about {seconds / 3600:.2g} h"


def _name(key: str) -> str:
    return "writing the report" if key == REPORT else CHAPTERS[key].stage
