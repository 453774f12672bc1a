"""The table of wrong truths: what the answers are worth where lives are not Weibull.

``python tests/tools/misspecified.py --workers 2`` makes fleets by `other_fleets`, which shares
nothing with the generator of the product, and writes ``misspecified.csv`` and ``misspecified.md``
into ``reports/calibration``: 72 cells, of 150 fleets at each of three truths and 30 forecasts, in
about ten minutes of two cores. ``--forecasts 0 --store NAME.csv`` writes a table of verdicts and
bands alone: so an older version of the package, in an environment of its own, is measured
on the same fleets, and ``misspecified_before.csv`` is what the page shows beside.
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import math
import sys
from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

import numpy as np
from other_fleets import CLAIM_H, OTHER_TRUTHS, SHORT_H, OtherFleet, make_fleet

from fleetstats.advice.advise import advise_hours
from fleetstats.advice.judge import judge_claim
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.draws import draw_lives
from fleetstats.core.crew import Crew, do_work
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array
from fleetstats.study.settings import Settings, StudyKeys
from fleetstats.survival.counting.count_law import CountLaw
from fleetstats.survival.weibull.fit_weibull import try_fit

SEED = 20261130
SETTINGS = Settings(
    study=StudyKeys(title="made", analysis_date=dt.date(2026, 1, 1), claimed_interval_h=CLAIM_H)
)
ACCEPTED = 0.10
LEVELS = (1.0, 1.2, 0.5)
"""True chance of failing by the claim, over the accepted one."""

SIZES = (60, 250, 2000)
AGES = ("young", "mature")
DRAWS = 200
NAME, BEFORE = "misspecified.csv", "misspecified_before.csv"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One truth, size and age of fleet, and how many fleets are asked of it."""

    truth: int
    n: int
    ages: str
    fleets: int
    forecasts: int
    seed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What was found in one cell; shares of fleets but for those named otherwise.

    ``wrong`` and ``wrong_over``: called supported at the accepted chance and at 1.2 times it;
    ``power``: at half of it. ``b10_late`` and ``b10_early``: the B10 life's lower edge above the
    true one, its upper edge below. ``plan_late``: plan-from later than the true B10 life.
    ``held``: 90 % intervals of failures one and two years ahead, by all laws and (``alone``) by the
    Weibull; ``width`` their mean widths in failures. ``brier``: the told chance's Brier score over
    the base rate's, less 1; ``worn``: mean told chance of the most worn tenth over the true one,
    ``worn_alone`` that of the Weibull alone.
    """

    truth: str
    n: int
    ages: str
    fleets: int
    failures: float
    wrong: float
    wrong_over: float
    power: float
    b10_late: float
    b10_early: float
    plan_late: float
    forecasts: int = 0
    held_1: float = math.nan
    held_2: float = math.nan
    width_1: float = math.nan
    width_2: float = math.nan
    alone_held_1: float = math.nan
    alone_held_2: float = math.nan
    alone_width_1: float = math.nan
    alone_width_2: float = math.nan
    brier: float = math.nan
    worn: float = math.nan
    worn_alone: float = math.nan


def fleet_of(cell: Cell, level: float, i: int) -> OtherFleet:
    """Return fleet `i` of a cell at a true chance of `level` times the accepted one."""
    truth = OTHER_TRUTHS[cell.truth]
    rng = stream(cell.seed, f"{truth.key} {cell.n} {cell.ages} {level}", i)
    return make_fleet(truth, level * ACCEPTED, cell.n, cell.ages, rng)


def measure(cell: Cell) -> Row:
    """Return what is found in one cell."""
    words = dict.fromkeys(LEVELS, 0)
    late = early = plan = failures = 0.0
    for i in range(cell.fleets):
        for level in LEVELS:
            spells = fleet_of(cell, level, i).spells
            fit = try_fit(spells)
            word = judge_claim(Quoter.of(spells, fit, SETTINGS), CLAIM_H, 1.0 - ACCEPTED).word
            words[level] += word == "supported"
            if level == 1.0:
                said = advise_hours(spells, fit, SETTINGS, curves=False)
                life, start = said.reliability.life, said.overhaul_band.plan_from.hours
                late += life is not None and (life.low or 0.0) > CLAIM_H
                early += life is not None and (life.high or math.inf) < CLAIM_H
                plan += (start or 0.0) > CLAIM_H
                failures += spells.n_failed
    ahead = [look_ahead(fleet_of(cell, 1.0, i), i) for i in range(cell.forecasts)]
    share = 1.0 / max(cell.fleets, 1)
    row = Row(
        truth=OTHER_TRUTHS[cell.truth].key,
        n=cell.n,
        ages=cell.ages,
        fleets=cell.fleets,
        failures=failures * share,
        wrong=words[1.0] * share,
        wrong_over=words[1.2] * share,
        power=words[0.5] * share,
        b10_late=late * share,
        b10_early=early * share,
        plan_late=plan * share,
        forecasts=cell.forecasts,
    )
    return replace(row, **_gathered(np.array(ahead))) if ahead else row


def look_ahead(fleet: OtherFleet, seed: int) -> tuple[float, ...]:
    """Return what one fleet's forecast and outlook are worth: see `_gathered` for the order."""
    from fleetstats.bands.averaged.average import draw_any_lives
    from fleetstats.chapters.ahead.shrunk import shrunk_chance

    spells, age, evidence = fleet.spells, fleet.age_h, SETTINGS.evidence
    top = float((age + 2.0 * fleet.year_h).max())
    averaged = draw_any_lives(spells, evidence, DRAWS, seed=seed, top_h=top)
    alone = draw_lives(spells, evidence, DRAWS, seed=seed)
    out: list[float] = []
    for draws in (averaged, alone):
        for years in (1.0, 2.0):
            law = CountLaw.of_draws(draws.conditional_failure(age, years * fleet.year_h))
            low, high = law.interval(0.90)
            out += [low <= int((fleet.fails_in <= years).sum()) <= high, high - low]
    true = fleet.chance
    told = shrunk_chance(spells, averaged, age, SHORT_H)
    base = -np.expm1(-spells.n_failed / spells.exposure_h * SHORT_H)
    worn = age >= np.quantile(age, 0.9)
    plain = np.median(alone.conditional_failure(age[worn], SHORT_H), axis=0)
    # the outcome's own chance instead of the outcome: the same on the mean, with less noise
    score = [float(np.mean(p * p - 2.0 * true * p + true)) for p in (told, base)]
    return (*out, *score, *(float(p.mean()) for p in (told[worn], true[worn], plain)))


def _gathered(each: Array) -> dict[str, Any]:
    m = each.mean(axis=0)
    names = ("held_1", "width_1", "held_2", "width_2")
    out = {name: float(m[k]) for k, name in enumerate(names)}
    out |= {f"alone_{name}": float(m[4 + k]) for k, name in enumerate(names)}
    return out | {
        "brier": float(m[8] / m[9] - 1.0),
        "worn": float(m[10] / m[11]),
        "worn_alone": float(m[12] / m[11]),
    }


def every_cell(
    fleets: int, forecasts: int, *, seed: int = SEED, sizes: tuple[int, ...] = SIZES
) -> list[Cell]:
    """Return the cells, small fleets first."""
    return [
        Cell(truth=t, n=n, ages=a, fleets=fleets, forecasts=forecasts, seed=seed)
        for n in sizes
        for a in AGES
        for t in range(len(OTHER_TRUTHS))
    ]


def write_rows(rows: Iterable[Row], path: Path) -> None:
    """Write a table of rows, whole or not at all."""
    part = path.with_name(f".{path.name}.part")
    with part.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        columns = [f.name for f in fields(Row)]
        writer.writerow(columns)
        for row in rows:
            writer.writerow([_text(getattr(row, c)) for c in columns])
    part.replace(path)


def _text(x: object) -> str:
    if isinstance(x, float):
        return "" if math.isnan(x) else f"{x:.4g}"
    return str(x)


def read_rows(path: Path) -> tuple[Row, ...]:
    """Read a table of rows; none where there is no such file."""
    if not path.exists():
        return ()
    with path.open(encoding="utf-8", newline="") as lines:
        return tuple(
            Row(**{k: _value(k, v) for k, v in line.items()}) for line in csv.DictReader(lines)
        )


def _value(column: str, text: str) -> Any:
    if column in ("truth", "ages"):
        return text
    if column in ("n", "fleets", "forecasts"):
        return int(text)
    return float(text) if text else math.nan


def main(arguments: list[str] | None = None) -> int:
    """Run the study from a command line."""
    parser = argparse.ArgumentParser(description="Measure the product where lives are not Weibull.")
    parser.add_argument("--fleets", type=int, default=150, help="to each truth, size and age")
    parser.add_argument("--forecasts", type=int, default=30)
    parser.add_argument("--sizes", type=int, nargs="*", default=list(SIZES))
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--workers", type=int, default=1, help="local processes")
    parser.add_argument("--out", type=Path, default=Path("reports/calibration"))
    parser.add_argument("--store", default=NAME, help="name of the table")
    parser.add_argument("--page", action="store_true", help="write the page from stored tables")
    asked = parser.parse_args(arguments)
    if not asked.page:
        cells = every_cell(asked.fleets, asked.forecasts, seed=asked.seed, sizes=tuple(asked.sizes))
        rows: dict[int, Row] = {}
        for k, row in do_work(measure, cells, Crew(workers=asked.workers)):
            rows[k] = row
            sys.stderr.write(f"{len(rows)} of {len(cells)}: {row.truth}, {row.n} {row.ages}\n")
            write_rows((rows[k] for k in sorted(rows)), asked.out / asked.store)
    if asked.store == NAME:
        from misspecified_page import page_text

        now, before = (read_rows(asked.out / name) for name in (NAME, BEFORE))
        (asked.out / "misspecified.md").write_text(page_text(now, before), encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
