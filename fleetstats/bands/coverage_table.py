"""The stored table of the calibration study, and the cell of it that is nearest to a fleet.

``coverage_table.csv`` beside this file is written by ``python tests/tools/calibration.py``;
its first line says how it was made.
"""

from __future__ import annotations

import csv
import functools
from importlib import resources
from pathlib import Path

import numpy as np

from fleetstats.core.errors import ReadError
from fleetstats.core.value import Value, value

FILE = "coverage_table.csv"
CONFIDENCE = 0.95
"""One-sided, of every edge of the study."""

TRUE_SHAPES = (1.0, 2.0, 3.5, 5.0)
SIZES = (50, 250)
EXPECTED = (0.5, 2.0, 4.0, 8.0, 16.0, 32.0)
"""True shapes, engines and failures expected of the study's cells."""

PESSIMISTIC_EDGES = (("B10", "low"), ("R", "low"), ("conditional", "high"))
"""Edges on the side of more failures, which a claim or a target rests on."""


@value
class Measured(Value):
    """One edge of one method in one cell.

    Parameters
    ----------
    method, quantity, edge : str
        `edge` is ``"low"`` or ``"high"``.
    shape, n, late, expected
        The cell.
    fleets : int
        Fleets simulated.
    coverage : float
        Share of fleets whose edge holds; a missing edge holds.
    error : float
        Monte Carlo standard error of it.
    silent : float
        Share of fleets without the edge.
    reach : float
        Median distance of the edge from the truth, in log hours or log cumulative hazard (log shape
        for the shape), over fleets that have it and where it holds; NaN if none.
    """

    method: str
    quantity: str
    edge: str
    shape: float
    n: int
    late: bool
    expected: float
    fleets: int
    coverage: float
    error: float
    silent: float
    reach: float


@value
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


def _text(path: Path | None) -> str:
    try:
        if path is None:
            return resources.files("fleetstats.bands").joinpath(FILE).read_text(encoding="utf-8")
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise ReadError(
            f"The table of measured coverage cannot be read: {error}.",
            "It is part of the package: install fleetstats again.",
        ) from error


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
                "Make it anew with: python tests/tools/calibration.py --store",
            ) from error
    return tuple(rows)


@functools.cache
def _stored(method: str) -> tuple[Measured, ...]:
    """Return the rows of the stored table on one method; it is part of the package."""
    return tuple(r for r in read_table() if r.method == method)


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
    table = _stored(method) if rows is None else rows
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
