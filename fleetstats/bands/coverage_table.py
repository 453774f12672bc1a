"""The stored table of the calibration study, and the cell of it that is nearest to a fleet.

``coverage_table.csv`` beside this file is written by ``python -m fleetstats.bands.calibration``;
its first line says how it was made.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass, fields
from importlib import resources
from pathlib import Path

import numpy as np

from fleetstats.bands.measure import CONFIDENCE, Measured
from fleetstats.bands.trial_fleets import EXPECTED, SIZES, TRUE_SHAPES
from fleetstats.core.errors import ReadError
from fleetstats.core.value import Value

FILE = "coverage_table.csv"
COLUMNS = tuple(f.name for f in fields(Measured))
PESSIMISTIC_EDGES = (("B10", "low"), ("R", "low"), ("conditional", "high"))
"""Edges on the side of more failures, which a claim or a target rests on."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class NearestCell(Value):
    """What a method was measured to hold near a fleet.

    Parameters
    ----------
    method : str
    coverage : float
        The lowest over the edges and truths asked about.
    error : float
        Monte Carlo standard error of that one.
    nominal : float
        One-sided confidence of every edge of the study.
    edge : str
        The edge that held least, such as ``"R low"``.
    shape, n, late, expected
        Its cell.
    fleets : int
        Fleets simulated there.
    """

    method: str
    coverage: float
    error: float
    nominal: float
    edge: str
    shape: float
    n: int
    late: bool
    expected: float
    fleets: int


def table_text(rows: Iterable[Measured], heading: str) -> str:
    """Return rows as CSV text under one comment line."""
    out = io.StringIO()
    out.write(f"# {heading}\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in rows:
        writer.writerow([_cell_text(getattr(row, c)) for c in COLUMNS])
    return out.getvalue()


def read_heading(path: Path | None = None) -> str:
    """Return the first line of a table, which says how it was made; parameters as `read_table`."""
    first = _text(path).split("\n", 1)[0]
    return first.removeprefix("# ")


def _text(path: Path | None) -> str:
    try:
        if path is None:
            return resources.files("fleetstats.bands").joinpath(FILE).read_text(encoding="utf-8")
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise ReadError(
            f"The table of measured coverage cannot be read: {error}.",
            "Make it with: python -m fleetstats.bands.calibration --store",
        ) from error


def _cell_text(value: object) -> str:
    if isinstance(value, bool):
        return str(int(value))
    if isinstance(value, float):
        return "" if np.isnan(value) else f"{value:.4g}"
    return str(value)


def read_table(path: Path | None = None) -> tuple[Measured, ...]:
    """Return the rows of a table: of the one stored in the package, unless `path` is given.

    Raises
    ------
    ReadError
        If the file is missing or a line of it cannot be read.
    """
    text = _text(path)
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows = []
    for number, row in enumerate(csv.DictReader(lines), start=3):
        try:
            rows.append(
                Measured(
                    method=row["method"],
                    quantity=row["quantity"],
                    edge=row["edge"],
                    shape=float(row["shape"]),
                    n=int(row["n"]),
                    late=row["late"] == "1",
                    expected=float(row["expected"]),
                    fleets=int(row["fleets"]),
                    coverage=float(row["coverage"]),
                    error=float(row["error"]),
                    silent=float(row["silent"]),
                    reach=float(row["reach"] or "nan"),
                )
            )
        except (KeyError, TypeError, ValueError) as error:
            raise ReadError(
                f"{FILE} line {number}: {error!r}.",
                "Make it anew with: python -m fleetstats.bands.calibration",
            ) from error
    return tuple(rows)


def measured_coverage(
    method: str,
    *,
    n_engines: float,
    n_failed: float,
    late: bool,
    shape: float | None = None,
    edges: tuple[tuple[str, str], ...] = PESSIMISTIC_EDGES,
    rows: tuple[Measured, ...] | None = None,
) -> NearestCell | None:
    """Return the least coverage measured in the cells nearest to a fleet; None if there is none.

    Parameters
    ----------
    method : str
        As the table names it.
    n_engines, n_failed : float
        Engines and failures at hand; the failures expected are not known, so half a failure is
        added to those seen.
    late : bool
        Whether some engines were first heard of with hours on them.
    shape : float, optional
        The nearest true shape; all of them when left out, since few failures do not tell it.
    edges : tuple of (quantity, edge)
        Edges asked about.
    rows : tuple of Measured, optional
        A table; the stored one when left out.
    """
    table = read_table() if rows is None else rows
    expected = _nearest(EXPECTED, n_failed + 0.5)
    n = int(_nearest(SIZES, n_engines))
    shapes = TRUE_SHAPES if shape is None else (_nearest(TRUE_SHAPES, shape),)
    near = [
        r
        for r in table
        if r.method == method
        and (r.quantity, r.edge) in edges
        and r.expected == expected
        and r.n == n
        and r.late == late
        and r.shape in shapes
    ]
    if not near:
        return None
    worst = min(near, key=lambda r: r.coverage)
    return NearestCell(
        method=method,
        coverage=worst.coverage,
        error=worst.error,
        nominal=CONFIDENCE,
        edge=f"{worst.quantity} {worst.edge}",
        shape=worst.shape,
        n=worst.n,
        late=worst.late,
        expected=worst.expected,
        fleets=worst.fleets,
    )


def _nearest(steps: tuple[float, ...] | tuple[int, ...], value: float) -> float:
    logs = np.log(np.asarray(steps, dtype=np.float64))
    return float(steps[int(np.argmin(np.abs(logs - np.log(max(value, 1e-9)))))])
