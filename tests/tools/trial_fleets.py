"""Fleets of known truth, for the calibration study and the small coverage tests.

Ages are staggered evenly from 50 to 1,450 h, as in a young fleet. With delayed entry every second
engine is first heard of at some share of its age below 0.8. The scale is set so that the failures
expected in the exposure are as asked.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fleetstats.bands.coverage_table import EXPECTED, SIZES, TRUE_SHAPES
from fleetstats.bands.likelihood.power import PowerSums
from fleetstats.bands.quantity import Quantity
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array, Value

YOUNGEST_H, OLDEST_H = 50.0, 1450.0
CLAIM_H, CHECK_H = 1200.0, 50.0
"""The claimed interval and the check asked about; common practice, no source."""

ASKED = {
    "B10": Quantity.life(0.10),
    "R": Quantity.reliability(CLAIM_H),
    "conditional": Quantity.conditional(CLAIM_H, CHECK_H),
    "shape": Quantity.shape(),
}
"""What the study asks of every fleet."""

GRID = np.linspace(np.log(0.05), np.log(60.0), 142)
"""Log shapes shared by all fleets of the study."""

NODES = 64
"""Nodes of the series of log A; its error on these staggered ages is below 1e-6."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Cell(Value):
    """One truth: shape, engines, delayed entry or not, failures expected."""

    shape: float
    n: int
    late: bool
    expected: float

    @property
    def key(self) -> str:
        """Return a name that keeps the cell's random stream apart from all others."""
        return f"{self.shape:g}-{self.n}-{int(self.late)}-{self.expected:g}"

    def ages(self) -> tuple[Array, Array]:
        """Return (n,) entries and (n,) ages at which observation stops if nothing fails."""
        stop = np.linspace(YOUNGEST_H, OLDEST_H, self.n)
        if not self.late:
            return np.zeros(self.n), stop
        k = np.arange(self.n)
        # steps of the golden ratio spread the shares evenly without a draw
        share = np.where(k % 2 == 1, 0.8 * ((k * 0.6180339887498949) % 1.0), 0.0)
        return stop * share, stop

    def scale_h(self) -> float:
        """Return the scale at which the failures expected are as asked."""
        from scipy.optimize import brentq

        entry, stop = self.ages()

        def over(log_scale: float) -> float:
            s = np.exp(log_scale)
            rise = (stop / s) ** self.shape - (entry / s) ** self.shape
            return float(-np.expm1(-rise).sum()) - self.expected

        return float(np.exp(brentq(over, np.log(10.0), np.log(1e12), xtol=1e-12)))

    def truth(self, quantity: Quantity) -> float:
        """Return the true value of a quantity."""
        theta = float(np.log(self.shape))
        u = -self.shape * float(np.log(self.scale_h() / OLDEST_H))
        return float(quantity.value(theta, u, OLDEST_H))


def every_cell() -> Iterator[Cell]:
    """Yield the 96 cells of the study."""
    for shape, n, late, expected in itertools.product(TRUE_SHAPES, SIZES, (False, True), EXPECTED):
        yield Cell(shape=shape, n=n, late=late, expected=expected)


def draw_fleets(cell: Cell, n: int, *, seed: int) -> tuple[Array, Array]:
    """Return (n, engines) ages at the end and whether failed; lives are given survival to entry."""
    entry, stop = cell.ages()
    scale = cell.scale_h()
    rng = stream(seed, f"trial-{cell.key}")
    start = (entry / scale) ** cell.shape
    life = scale * (start + rng.standard_exponential((n, cell.n))) ** (1.0 / cell.shape)
    failed = life <= stop
    return np.where(failed, life, stop), failed


def sum_fleets(cell: Cell, ends: Array, failed: Array) -> PowerSums:
    """Return power sums of the fleets of a cell."""
    entry, stop = cell.ages()
    return PowerSums.of_simulated(
        entry,
        stop,
        ends,
        failed,
        reference_h=OLDEST_H,
        low_shape=float(np.exp(GRID[0])),
        high_shape=float(np.exp(GRID[-1])),
        count=NODES,
    )
