"""The calibration study: do edges hold what they promise? Run on demand, stored with its seed.

``python tests/tools/calibration.py`` measures every method in 96 cells (true shapes 1, 2, 3.5 and
5; 50 and 250 engines of staggered ages; followed from new, or half of them heard of late; 0.5 to
32 failures expected), writes the table and a short page, and with ``--store`` the table that the
package carries. Workers of a scheduler need ``PYTHONPATH=tests/tools``. Coverage is that of the
whole rule, unconditional: fleets with nothing failed are among those counted. Jeng & Meeker 2000
are the model for such a study.
"""

from __future__ import annotations

import argparse
import csv
import io
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields
from importlib import resources
from pathlib import Path

import numpy as np
from measure import measure_cell
from measure_resampled import measure_resampled
from trial_fleets import Cell, every_cell

from fleetstats.bands.coverage_table import CONFIDENCE, EXPECTED, FILE, Measured
from fleetstats.core.crew import Crew, do_work
from fleetstats.core.files import write_whole
from fleetstats.core.value import Array, Value, frozen_array

SEED = 20261125
FLEETS, RESAMPLED_FLEETS, DRAWS = 10_000, 200, 800
LOWEST, HIGHEST, FEW_LOWEST = 0.94, 0.97, 0.945
"""The goal for a one-sided 95 % edge: from 4 failures expected on within the first two, below that
at least the third."""

FEW_EXPECTED = 4.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class CoverageCurve(Value):
    """One edge of one method over the failures expected: range over all other conditions.

    Parameters
    ----------
    method, quantity, edge : str
    expected : (k,) float
    lowest, middle, highest : (k,) float
        Least, median and greatest coverage over shapes, sizes and delayed entry.
    silent : (k,) float
        Median share of fleets without the edge.
    reach : (k,) float
        Median over cells of the median reach; NaN where most fleets have none.
    """

    method: str
    quantity: str
    edge: str
    expected: Array
    lowest: Array
    middle: Array
    highest: Array
    silent: Array
    reach: Array

    def __post_init__(self) -> None:
        for f in ("expected", "lowest", "middle", "highest", "silent", "reach"):
            object.__setattr__(self, f, frozen_array(getattr(self, f)))


def run_study(
    fleets: int = FLEETS,
    *,
    seed: int = SEED,
    cells: Iterable[Cell] | None = None,
    resampled_fleets: int = RESAMPLED_FLEETS,
    draws: int = DRAWS,
    told: Callable[[str], None] = lambda _: None,
    crew: Crew | None = None,
) -> tuple[Measured, ...]:
    """Measure every method in every cell.

    Parameters
    ----------
    fleets : int
        Fleets a cell for methods that take all fleets at once.
    seed : int
        Of every draw.
    cells : iterable of Cell, optional
        All 96 when left out.
    resampled_fleets, draws : int
        Fleets and resamples for methods that must visit each fleet; those are measured where 4 or
        16 failures are expected among 250 engines. 0 leaves them out.
    told : callable
        Told each cell as it is done.
    crew : Crew, optional
        Who measures; the table does not depend on it.
    """
    tasks = [
        _CellTask(cell=cell, fleets=fleets, seed=seed, resampled=resampled_fleets, draws=draws)
        for cell in (every_cell() if cells is None else cells)
    ]
    out: dict[int, list[Measured]] = {}
    for i, rows in do_work(_measure, tasks, crew):
        out[i] = rows
        cell = tasks[i].cell
        told(f"{cell.shape:g} {cell.n} {'late' if cell.late else 'new'} {cell.expected:g}")
    return tuple(row for i in range(len(tasks)) for row in out[i])


@dataclass(frozen=True, slots=True, kw_only=True)
class _CellTask:
    """One cell to measure, for one worker."""

    cell: Cell
    fleets: int
    seed: int
    resampled: int
    draws: int


def _measure(task: _CellTask) -> list[Measured]:
    cell = task.cell
    out = measure_cell(cell, task.fleets, seed=task.seed)
    if task.resampled and cell.n == 250 and cell.expected in (4.0, 16.0):
        out += measure_resampled(cell, task.resampled, seed=task.seed, draws=task.draws)
    return out


def coverage_curves(rows: Iterable[Measured]) -> tuple[CoverageCurve, ...]:
    """Gather rows into curves over the failures expected, for tables and pictures."""
    grouped: dict[tuple[str, str, str], list[Measured]] = {}
    for row in rows:
        grouped.setdefault((row.method, row.quantity, row.edge), []).append(row)
    out = []
    for (method, quantity, edge), group in grouped.items():
        steps = sorted({r.expected for r in group})
        columns = [[r for r in group if r.expected == e] for e in steps]
        held = [np.array([r.coverage for r in c]) for c in columns]
        reach = [np.array([np.inf if np.isnan(r.reach) else r.reach for r in c]) for c in columns]
        middle_reach = [float(np.median(v)) for v in reach]
        out.append(
            CoverageCurve(
                method=method,
                quantity=quantity,
                edge=edge,
                expected=np.array(steps),
                lowest=np.array([v.min() for v in held]),
                middle=np.array([np.median(v) for v in held]),
                highest=np.array([v.max() for v in held]),
                silent=np.array([np.median([r.silent for r in c]) for c in columns]),
                reach=np.array([v if np.isfinite(v) else np.nan for v in middle_reach]),
            )
        )
    return tuple(out)


def tally(rows: Iterable[Measured], method: str) -> dict[str, float]:
    """Count where a method meets the goal; three standard errors are allowed for chance.

    Returns counts of cells times edges: ``many`` (4 failures expected or more), ``within``,
    ``below`` and ``above`` the range wanted there, ``few``, ``few_below``, and the least and
    greatest coverage of each.
    """
    mine = [r for r in rows if r.method == method]
    many = [r for r in mine if r.expected >= FEW_EXPECTED]
    few = [r for r in mine if r.expected < FEW_EXPECTED]
    below = sum(r.coverage + 3 * r.error < LOWEST for r in many)
    above = sum(r.coverage - 3 * r.error > HIGHEST for r in many)
    return {
        "many": len(many),
        "within": len(many) - below - above,
        "below": below,
        "above": above,
        "lowest": min((r.coverage for r in many), default=float("nan")),
        "highest": max((r.coverage for r in many), default=float("nan")),
        "few": len(few),
        "few_below": sum(r.coverage + 3 * r.error < FEW_LOWEST for r in few),
        "few_lowest": min((r.coverage for r in few), default=float("nan")),
    }


def page_text(rows: tuple[Measured, ...], heading: str, *, picture: str = "") -> str:
    """Return the page of the study in Markdown: the goal, the tally, a table for each edge.

    `picture` names a file beside the page to show on top.
    """
    methods = list(dict.fromkeys(r.method for r in rows))
    out = [
        "# Do the bands hold what they promise?",
        "",
        heading,
        "",
        *((f"![Coverage by failures expected]({picture})", "") if picture else ()),
        f"Every edge is a one-sided {100 * CONFIDENCE:g} % bound. The goal is to hold the truth in "
        f"{100 * LOWEST:g} to {100 * HIGHEST:g} % of fleets in every cell from {FEW_EXPECTED:g} "
        f"failures expected on, and in {100 * FEW_LOWEST:g} % or more below that, fleets without a "
        "failure included. A missing edge excludes nothing, so it holds; the share of such fleets "
        "is told in the table beside. Three Monte Carlo standard errors are allowed for chance.",
        "",
        "| method | cells x edges from 4 on | within | below | above | least | greatest "
        "| below 4: least | below 4: under goal |",
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for method in methods:
        t = tally(rows, method)
        out.append(
            f"| {method} | {t['many']:.0f} | {t['within']:.0f} | {t['below']:.0f} "
            f"| {t['above']:.0f} | {100 * t['lowest']:.1f} % | {100 * t['highest']:.1f} % "
            + (
                f"| {100 * t['few_lowest']:.1f} % | {t['few_below']:.0f} of {t['few']:.0f} |"
                if t["few"]
                else "| not measured | not measured |"
            )
        )
    curves = {(c.method, c.quantity, c.edge): c for c in coverage_curves(rows)}
    edges = list(dict.fromkeys((r.quantity, r.edge) for r in rows))
    for quantity, edge in edges:
        out += [
            "",
            f"## {quantity}, {edge} edge: least to greatest coverage in %, by failures expected",
            "",
            "| method | " + " | ".join(f"{e:g}" for e in EXPECTED) + " |",
            "| --- |" + " --- |" * len(EXPECTED),
        ]
        for method in methods:
            curve = curves.get((method, quantity, edge))
            if curve is None:
                continue
            at = {float(e): i for i, e in enumerate(curve.expected)}
            out.append(
                f"| {method} | "
                + " | ".join(
                    f"{100 * curve.lowest[at[e]]:.1f} to {100 * curve.highest[at[e]]:.1f}"
                    if e in at
                    else "–"
                    for e in EXPECTED
                )
                + " |"
            )
    return "\n".join(out) + "\n"


def table_text(rows: Iterable[Measured], heading: str) -> str:
    """Return rows as CSV text under one comment line."""
    out = io.StringIO()
    out.write(f"# {heading}\n")
    writer = csv.writer(out, lineterminator="\n")
    columns = [f.name for f in fields(Measured)]
    writer.writerow(columns)
    for row in rows:
        writer.writerow([_cell_text(getattr(row, c)) for c in columns])
    return out.getvalue()


def _cell_text(value: object) -> str:
    if isinstance(value, bool):
        return str(int(value))
    if isinstance(value, float):
        return "" if np.isnan(value) else f"{value:.4g}"
    return str(value)


def write_study(
    rows: tuple[Measured, ...], folder: Path, heading: str, *, picture: str = ""
) -> None:
    """Write ``coverage.csv`` and ``README.md`` into a folder, each whole or not at all."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in (
        ("coverage.csv", table_text(rows, heading)),
        ("README.md", page_text(rows, heading, picture=picture)),
    ):
        write_whole(folder / name, text)


def _tell(text: str) -> None:
    sys.stderr.write(text + "\n")
    sys.stderr.flush()


def main(arguments: list[str] | None = None) -> int:
    """Run the study from a command line."""
    parser = argparse.ArgumentParser(description="Measure the coverage of every band.")
    parser.add_argument("--fleets", type=int, default=FLEETS, help="fleets a cell")
    parser.add_argument("--resampled", type=int, default=RESAMPLED_FLEETS, help="0 to leave out")
    parser.add_argument("--draws", type=int, default=DRAWS)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--out", type=Path, default=Path("reports/calibration"))
    parser.add_argument("--workers", type=int, default=1, help="local processes")
    parser.add_argument("--scheduler", default="", help="address of a Dask scheduler")
    parser.add_argument("--store", action="store_true", help="store the table in the package")
    asked = parser.parse_args(arguments)
    rows = run_study(
        asked.fleets,
        seed=asked.seed,
        resampled_fleets=asked.resampled,
        draws=asked.draws,
        told=_tell,
        crew=Crew(workers=asked.workers, scheduler=asked.scheduler),
    )
    heading = (
        f"Calibration study: {asked.fleets} fleets a cell ({asked.resampled} for resampling "
        f"methods, {asked.draws} resamples each), seed {asked.seed}."
    )
    write_study(rows, asked.out, heading)
    if asked.store:
        with resources.as_file(resources.files("fleetstats.bands") / FILE) as stored:
            stored.write_text(table_text(rows, heading), encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
