"""Hours at risk and failures by age band and calendar period, by label: the cells of the plane.

Exposure is cut exactly where the straight line of a life crosses an edge (Clayton & Hills 1993,
chapter 6, from memory); a failure counts in the cell that holds its hours and its day.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import SpellError
from fleetstats.core.value import Array
from fleetstats.spells.days.dated import Dated

LABELS = ("cause", "build", "source")
"""By what cells are told apart. A cause labels failures only: exposure is of all lives."""


def split_exposure(
    dated: Dated, hour_edges: ArrayLike, day_edges: ArrayLike, *, by: str = ""
) -> tuple[tuple[str, ...], Array, Array]:
    """Return hours at risk and failures in question by age band and calendar period.

    Parameters
    ----------
    dated : Dated
        The lives.
    hour_edges : (p + 1,) float
        Rising hours.
    day_edges : (q + 1,) float
        Rising ordinal days.
    by : {"", "cause", "build", "source"}
        The label by which cells are told apart; none by default.

    Returns
    -------
    names : tuple of str
        The labels, in order; one blank where `by` is.
    exposure_h, failures : (g, p, q) float
        Weighted hours and counts for each label. Cells are open below and closed above, on both
        clocks; what lies outside all edges is not counted. For causes every label has the hours
        of all lives, since each of them was at risk of each cause.

    Raises
    ------
    SpellError
        If edges do not rise, or the label is none of these.

    Examples
    --------
    >>> import fleetstats as fs
    >>> from fleetstats.spells.days.dated import Dated
    >>> lives = fs.Spells.of(0, [400, 900], [True, False])
    >>> dated = Dated.of(lives, [730000, 730100], [730400, 730700])
    >>> names, hours, failed = split_exposure(dated, [0, 300, 900], [730000, 730400, 730700])
    >>> hours[0].round().tolist()
    [[600.0, 0.0], [250.0, 450.0]]
    """
    hours, days = _rising(hour_edges, "hours"), _rising(day_edges, "days")
    names, code, own = _codes(dated, by)
    s, end = dated.spells, dated.end_h
    # Hours that each life had reached on each day: where its line crosses the edge.
    crossed = np.stack([np.minimum(dated.age_at(d), end) for d in days], axis=1)
    shape = (len(names), len(hours) - 1, len(days) - 1)
    exposure, failures = np.zeros(shape), np.zeros(shape)
    at_risk = np.tile(s.weight, (len(names), 1))
    if own:
        at_risk *= code == np.arange(len(names))[:, None]
    for i in range(shape[1]):
        inside = np.diff(np.clip(crossed, hours[i], hours[i + 1]), axis=1)
        exposure[:, i, :] = at_risk @ inside
    dead = s.failed
    band = np.searchsorted(hours, end[dead], side="left") - 1
    period = np.searchsorted(days, dated.end_day[dead], side="left") - 1
    seen = (band >= 0) & (band < shape[1]) & (period >= 0) & (period < shape[2])
    at = (code[dead][seen], band[seen], period[seen])
    np.add.at(failures, at, s.weight[dead][seen])
    return names, exposure, failures


def _rising(edges: ArrayLike, what: str) -> Array:
    cut = np.asarray(edges, dtype=np.float64)
    if cut.ndim != 1 or len(cut) < 2 or not np.all(np.diff(cut) > 0):
        raise SpellError(f"Edges in {what}: {cut.tolist()}.", "Give two or more rising numbers.")
    return cut


def _codes(dated: Dated, by: str) -> tuple[tuple[str, ...], Array, bool]:
    """Return labels, (n,) which each life has, and whether a life is at risk of its own alone."""
    s = dated.spells
    if not by:
        return ("",), np.zeros(len(s), dtype=np.int64), True
    if by not in LABELS:
        raise SpellError(f"Cells by '{by}'.", f"Give one of: {', '.join(LABELS)}.")
    column = getattr(s, by)
    if by == "cause":
        # The label of a life that did not fail is no cause of a failure in question.
        names = np.unique(column[s.failed])
        code = np.searchsorted(names, column)
        return tuple(names.tolist()), np.where(s.failed, code, 0), False
    names, code = np.unique(column, return_inverse=True)
    return tuple(names.tolist()), code.ravel(), True
