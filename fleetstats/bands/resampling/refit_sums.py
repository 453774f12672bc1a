"""What refits of exact lives sum: each resample's A at the nodes of a few panels of log shape.

Engines are taken by chunks, each with its own stream of weights, and added in their order. A fleet
that is one of thousands of engines and a few made-up ones, whose ids stand last, has all whole
chunks in common with it: these are summed once for both, at the same nodes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from fleetstats.bands.likelihood.power import nodes_of
from fleetstats.bands.resampling.limit_law import LimitLaw, takes_limit
from fleetstats.bands.resampling.panels import NODES, PANEL, reach_of
from fleetstats.bands.resampling.weights import Resampling, further_engines
from fleetstats.core.errors import FitError
from fleetstats.core.kept import kept
from fleetstats.core.value import Array, frozen_array
from fleetstats.spells.spells import Spells
from fleetstats.survival.weibull.fit_weibull import solve_weibull

NEAR = 0.1
"""Share of a panel's half-width by which panels may lie beside a fleet's own best shape: as good to
the error of the series, and at least 5.4 of the 6 standard errors stay within."""

MOST_KEPT = 4_000_000
"""Numbers of sums that are kept for another fleet, 32 MB."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Panels:
    """Where A is summed: around the middles (p,) in log shape, ages in units of `reference_h`.

    `shape` is the fleet's own best, at which a direct search begins.
    """

    reference_h: float
    shape: float
    middles: Array

    @property
    def shapes(self) -> Array:
        """Return the shapes of all nodes, panel after panel."""
        nodes = self.middles[:, None] + nodes_of(NODES, -PANEL, PANEL)[None, :]
        return np.asarray(np.exp(nodes).ravel())

    def are_where(self, others: Panels) -> bool:
        """Return whether both are at the same nodes."""
        same = self.reference_h == others.reference_h
        return same and np.array_equal(self.middles, others.middles)


def panels_of(spells: Spells) -> Panels:
    """Return the panels of exact lives, worked out once.

    Of a fleet with further engines they are those of the fleet before, where these are near.

    Raises
    ------
    NoMaximum
        If the spells have no maximum.
    """
    return kept(spells, "refit panels", lambda: _panels_of(spells))


def _panels_of(spells: Spells) -> Panels:
    base = solve_weibull(spells.entry, spells.exit_upper, spells.failed, spells.weight)
    centre = float(np.log(base.shape))
    count = int(np.ceil(reach_of(spells.n_failed) / PANEL))
    middles = centre + PANEL * (2 * np.arange(count) + 1 - count)
    own = Panels(reference_h=spells.oldest_h, shape=base.shape, middles=frozen_array(middles))
    before = _shares_chunks(spells)
    if before is None:
        return own
    try:
        old = panels_of(before)
    except FitError:
        return own
    moved = abs(centre - float(np.log(old.shape)))
    shared = len(old.middles) == count and moved <= NEAR * PANEL
    shared = shared and np.abs(old.middles - middles).max() <= NEAR * PANEL
    return replace(own, middles=old.middles) if shared else own


def _shares_chunks(spells: Spells) -> Spells | None:
    """Return the fleet before, if it has whole chunks of engines in common with this one."""
    change = further_engines(spells)
    if change is None or not Resampling.whole_chunks(change.before):
        return None
    return change.before


def sum_blocks(spells: Spells, plan: Resampling, panels: Panels, blocks: range) -> Array:
    """Return (draws, ...) sums of the blocks at all nodes, then of failures and of their log ages.

    Parameters
    ----------
    spells : Spells
        Exact lives.
    plan : Resampling
        Of them.
    panels : Panels
        Where.
    blocks : range
        Blocks of draws.
    """
    if takes_limit(plan):
        terms = _terms(spells, plan, panels, range(plan.n_chunks))
        law = LimitLaw.of_terms((plan.lives[units], part) for _, units, part in terms)
        if law is not None:
            return np.concatenate([law.draw(plan, b) for b in blocks])
    begun = _begun(spells, plan, panels, blocks)
    totals = np.zeros(_size(plan, panels, blocks)) if begun is None else begun[1].copy()
    _add(totals, spells, plan, panels, blocks, begun[0] if begun else 0)
    return totals


def _begun(
    spells: Spells, plan: Resampling, panels: Panels, blocks: range
) -> tuple[int, Array] | None:
    """Return how many chunks are summed for good, and their sums; None where that is not kept."""
    before = _shares_chunks(spells)
    if before is not None and panels.are_where(panels_of(before)):
        old = Resampling.of_spells(before, plan.n_draws, seed=plan.seed, scheme=plan.scheme)
        return _begun(before, old, panels, blocks)
    size, whole = _size(plan, panels, blocks), plan.n_whole
    if not whole or size[0] * size[1] > MOST_KEPT:
        return None

    def work() -> Array:
        out = np.zeros(size)
        _add(out, spells, plan, panels, blocks, 0, whole)
        out.flags.writeable = False
        return out

    where = panels.middles.tobytes(), panels.reference_h
    key = ("refit sums", plan.n_draws, plan.seed, plan.scheme, blocks.start, blocks.stop, *where)
    return whole, kept(spells, key, work)


def _size(plan: Resampling, panels: Panels, blocks: range) -> tuple[int, int]:
    draws = plan.draws_of(blocks.stop - 1).stop - plan.draws_of(blocks.start).start
    return draws, NODES * len(panels.middles) + 2


def _add(
    totals: Array,
    spells: Spells,
    plan: Resampling,
    panels: Panels,
    blocks: range,
    start: int,
    stop: int | None = None,
) -> None:
    """Add the sums of chunks `start` to before `stop` to the totals."""
    first = plan.draws_of(blocks.start).start
    chunks = range(start, plan.n_chunks if stop is None else stop)
    for c, units, terms in _terms(spells, plan, panels, chunks):
        for block in blocks:
            rows_of = plan.draws_of(block)
            at = slice(rows_of.start - first, rows_of.stop - first)
            totals[at] += plan.draw(block, c, units) @ terms


def _terms(
    spells: Spells, plan: Resampling, panels: Panels, chunks: range
) -> Iterator[tuple[int, slice, Array]]:
    """Yield the number and the engines of each of these chunks, and their (units, nodes + 2) terms.

    The last two are the failures and the sum of their log ages.
    """
    shapes, ref = panels.shapes, panels.reference_h
    with np.errstate(divide="ignore"):
        log_e, log_t = np.log(spells.entry / ref), np.log(spells.exit_upper / ref)
    failed = spells.failed.astype(np.float64)
    order = np.argsort(plan.unit_of_row, kind="stable")
    unit = plan.unit_of_row[order]
    for c, units in plan.chunks():
        if c not in chunks:
            continue
        rows = order[np.searchsorted(unit, units.start) : np.searchsorted(unit, units.stop)]
        terms = np.empty((len(rows), len(shapes) + 2))
        ends, late = log_t[rows], np.flatnonzero(spells.entry[rows] > 0.0)
        run = log_e[rows[late]] - ends[late]
        for k, b in enumerate(shapes):
            part = np.exp(b * ends)
            part[late] *= -np.expm1(b * run)
            terms[:, k] = part
        terms[:, -2] = failed[rows]
        terms[:, -1] = failed[rows] * log_t[rows]
        terms *= plan.row_weight[rows, None]
        if len(rows) != units.stop - units.start:
            starts = np.searchsorted(plan.unit_of_row[rows], np.arange(units.start, units.stop))
            terms = np.add.reduceat(terms, starts, axis=0)
        yield c, units, terms
