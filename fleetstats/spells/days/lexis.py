"""Hours at risk and failures by age band and calendar period, by label: the cells of the plane.

Exposure is cut exactly where the straight line of a life crosses an edge (Clayton & Hills 1993,
chapter 6, from memory); a failure counts in the cell that holds its hours and its day.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import SpellError
from fleetstats.core.value import Array
from fleetstats.spells.days.dated import Dated

_AT_ONCE = 2048
"""Lives cut at once: what a processor keeps near it."""

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
    return split_by_labels(dated, hour_edges, day_edges, (by,))[0]


def split_by_labels(
    dated: Dated, hour_edges: ArrayLike, day_edges: ArrayLike, labels: Sequence[str]
) -> list[tuple[tuple[str, ...], Array, Array]]:
    """Return what `split_exposure` does by each of some labels; lives are cut once for all."""
    hours, days = _rising(hour_edges, "hours"), _rising(day_edges, "days")
    coded = [_codes(dated, by) for by in labels]
    exposure = _hours_at_risk(dated, hours, days, coded)
    dead, out = dated.spells.failed, []
    weight = dated.spells.weight[dead]
    band = np.searchsorted(hours, dated.end_h[dead], side="left") - 1
    period = np.searchsorted(days, dated.end_day[dead], side="left") - 1
    seen = (band >= 0) & (band < len(hours) - 1) & (period >= 0) & (period < len(days) - 1)
    for (names, code, _), of_label in zip(coded, exposure, strict=True):
        failures = np.zeros(of_label.shape)
        np.add.at(failures, (code[dead][seen], band[seen], period[seen]), weight[seen])
        out.append((names, of_label, failures))
    return out


def _hours_at_risk(
    dated: Dated, hours: Array, days: Array, coded: list[tuple[tuple[str, ...], Array, bool]]
) -> list[Array]:
    """Return (g, p, q) hours by band and period for each of some labels and their codes."""
    s, end = dated.spells, dated.end_h
    out = [np.zeros((len(names), len(hours) - 1, len(days) - 1)) for names, _, _ in coded]
    for first in range(0, len(dated), _AT_ONCE):
        some = slice(first, first + _AT_ONCE)
        part, weight = dated.select(np.arange(len(dated))[some]), s.weight[some]
        # Hours that each life had reached on each day: where its line crosses the edge.
        crossed = np.stack([np.minimum(part.age_at(d), end[some]) for d in days])
        for i in range(len(hours) - 1):
            inside = np.diff(np.clip(crossed, hours[i], hours[i + 1]), axis=0)
            for exposure, (names, code, own) in zip(out, coded, strict=True):
                if own:
                    here = code[some] == np.arange(len(names))[:, None]
                    exposure[:, i, :] += (here * weight) @ inside.T
                else:
                    exposure[:, i, :] += inside @ weight
    return out


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
