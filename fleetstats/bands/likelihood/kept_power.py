"""A of one fleet at any shapes, summed once; of a fleet that is supposed, from the one before.

A is a sum over lives (`power.py`), so a few lives more, fewer or longer add and take away their own
terms. All terms are positive and none taken away is above the sum that it leaves, so a digit is
lost only where little is left: there all is summed anew.
"""

from __future__ import annotations

import numpy as np

from fleetstats.bands.likelihood.power import (
    HIGH_SHAPE,
    LOW_SHAPE,
    PowerSums,
    power_sum,
    series_of,
)
from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Own, frozen_array
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells
from fleetstats.spells.supposed.changed import RowsChanged, change_of

FEW_ROWS = 64
"""Rows up to which all shapes are taken at once."""

LEAST_LEFT = 0.2
"""Share of a sum below which what is left of it has lost digits, as where fleets are simulated."""


def power_of(spells: Spells, log_shape: Array) -> Array:
    """Return (G,) A at log shapes (G,) by direct sums, ages in units of the oldest of the fleet.

    A failure between checks enters as a survival to the last good one.
    """
    key = ("power", log_shape.tobytes())
    return kept(spells, key, lambda: frozen_array(Own(_power_of(spells, log_shape))))


def _power_of(spells: Spells, log_shape: Array) -> Array:
    change = change_of(spells)
    if change is None:
        return _summed(spells, np.arange(len(spells)), log_shape, spells.oldest_h)
    ref = spells.oldest_h
    old = power_of(change.before, log_shape) * np.exp(
        np.exp(log_shape) * np.log(change.before.oldest_h / ref)
    )
    lost = _summed(change.before, change.gone, log_shape, ref)
    new = old - lost + _summed(spells, change.come, log_shape, ref)
    spent = ~(new > LEAST_LEFT * old)
    if spent.any():
        new[spent] = _summed(spells, np.arange(len(spells)), log_shape[spent], ref)
    return np.asarray(new)


def _summed(spells: Spells, rows: Array, log_shape: Array, reference_h: float) -> Array:
    """Return (G,) A of some rows, ages in units of a reference age."""
    entry, stop = spells.entry[rows], stops(spells, rows)
    keep = stop > entry
    if not keep.any():
        return np.zeros(len(log_shape))
    with np.errstate(divide="ignore"):
        log_e, log_t = (np.log(x[keep] / reference_h)[None, :] for x in (entry, stop))
    weight = spells.weight[rows][keep][None, :]
    if len(rows) > FEW_ROWS:
        return np.asarray(power_sum(log_shape, log_e, log_t, weight)[0])
    b = np.exp(log_shape)[:, None]
    with np.errstate(under="ignore"):
        late = np.isfinite(log_e)
        run = b * np.where(late, log_e - log_t, 0.0)
        return np.asarray((np.exp(b * log_t) * np.where(late, -np.expm1(run), 1.0)) @ weight[0])


def stops(spells: Spells, rows: Array | slice = slice(None)) -> Array:
    """Return hours to which lives are known to have survived, or at which they failed.

    (n,), or of some rows.
    """
    low, high = spells.exit_lower[rows], spells.exit_upper[rows]
    # only of a failure does the one end differ from the other
    return np.asarray(np.where(spells.event[rows] == Event.FAILED, low, high))


def sums_changed(spells: Spells, change: RowsChanged, old: PowerSums) -> PowerSums:
    """Return the power sums of a fleet from those of the fleet before, `old`.

    None of its failures may be known only to lie in an interval.
    """
    ref = spells.oldest_h
    n, logs = float(old.n_failed[0]), float(old.sum_log[0])
    logs += n * np.log(old.reference_h / ref)
    for sign, fleet, rows in ((-1.0, change.before, change.gone), (1.0, spells, change.come)):
        weight = sign * fleet.weight[rows] * fleet.failed[rows]
        n += float(weight.sum())
        logs += float((weight * np.log(fleet.exit_upper[rows] / ref)).sum())
    low, high = float(np.log(LOW_SHAPE)), float(np.log(HIGH_SHAPE))
    return PowerSums(
        reference_h=ref,
        n_failed=np.array([n]),
        sum_log=np.array([logs if n > 0.0 else 0.0]),
        low=low,
        high=high,
        coef=series_of(lambda theta: power_of(spells, theta)[None, :], low, high),
    )
