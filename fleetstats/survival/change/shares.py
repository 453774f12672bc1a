"""On which month would each failure have fallen, had nothing changed but the engines' ages?

If the hazard depends on age alone, a failure at t hours falls on each life that passes t hours
with the same chance, on whatever day that life passes them. So the months of the failures, given
their ages, are independent draws with shares that the records tell: no curve is assumed, and few
failures need no shape. Summed over failures the shares are the failures expected of each month by
the cumulative hazard fitted to all (the estimate of Nelson 1972 and Aalen 1978), and each factor
of the likelihood is one of the partial likelihood (Cox 1972) with calendar time as the covariate.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError
from fleetstats.core.gate import NUMBERS, an, gate, number_within
from fleetstats.core.value import Array, Floats, Ints, Matrix, Own, Value, value
from fleetstats.survival.change.passing import passing_by_month


@value
class Lines(Value):
    """Lives as straight lines in the plane of hours and days.

    Parameters
    ----------
    entry_h, end_h : (n,) float
        Hours at which observation began and ended.
    entry_day, end_day : (n,) float
        Ordinal days of the two (`datetime.date.toordinal`).
    weight : (n,) float
        Equal lives that a line stands for.

    Raises
    ------
    FitError
        If a line does not rise in both, or lengths differ.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lines = fs.CalendarLines(
    ...     entry_h=[0, 0],
    ...     end_h=[400, 650],
    ...     entry_day=[735_000, 735_100],
    ...     end_day=[735_900, 736_000],
    ...     weight=[1, 1],
    ... )
    >>> round(lines.hours_between(735_000, 735_450), 1)
    452.8
    """

    entry_h: Floats
    end_h: Floats
    entry_day: Floats
    end_day: Floats
    weight: Floats

    def __post_init__(self) -> None:
        n = len(self.weight)
        columns = (self.entry_h, self.end_h, self.entry_day, self.end_day)
        if any(len(c) != n for c in columns):
            raise FitError("Lines of unequal length.", "Give one value of each for each life.")
        if n and not (np.all(self.end_h > self.entry_h) and np.all(self.end_day > self.entry_day)):
            raise FitError(
                "A life does not rise in hours and in days.", "Leave such lives out of the lines."
            )

    def __len__(self) -> int:
        return len(self.weight)

    def age_at(self, day: float) -> Array:
        """Return (n,) hours on a day, held between entry and end."""
        share = (day - self.entry_day) / (self.end_day - self.entry_day)
        return np.asarray(self.entry_h + np.clip(share, 0.0, 1.0) * (self.end_h - self.entry_h))

    def hours_between(self, first_day: float, last_day: float) -> float:
        """Return hours at risk on days ``(first_day, last_day]``."""
        return float(self.weight @ (self.age_at(last_day) - self.age_at(first_day)))


@value
class MonthShares(Value):
    """Failures by month, and where they would have fallen.

    Parameters
    ----------
    edge_day : (m + 1,) float
        Ordinal days between which the months lie; the first of each month but at both ends.
    month : (k,) int
        Month of each failure.
    share : (k, m) float
        Chance of each month for each failure if nothing changed; rows sum to 1.
    """

    edge_day: Floats
    month: Ints
    share: Matrix

    def __len__(self) -> int:
        return len(self.month)

    @property
    def counts(self) -> Array:
        """Return (m,) failures by month."""
        return np.bincount(self.month, minlength=self.share.shape[1]).astype(float)

    @property
    def expected(self) -> Array:
        """Return (m,) failures expected by month at equal ages; they sum to the failures."""
        return np.asarray(self.share.sum(axis=0))

    def select(self, keep: ArrayLike) -> MonthShares:
        """Return the same months with some of the failures (k,) only, as those of one cause."""
        k = np.arange(len(self))[np.asarray(keep)]
        share = _of_failures(self.share.T, k)
        return MonthShares(edge_day=self.edge_day, month=self.month[k], share=share)

    def share_after(self) -> Array:
        """Return (k, m - 1) chances to fall on the second, third … month or later."""
        return np.array([x.copy() for x in each_after(self)][::-1]).reshape(-1, len(self)).T

    def after(self) -> tuple[Array, Array]:
        """Return (m - 1,) failures from the second, third … month on, and their expected share."""
        if not len(self):
            zero = np.zeros(self.share.shape[1] - 1)
            return zero, zero
        seen = np.cumsum(self.counts[::-1])[::-1][1:]
        due = np.cumsum(self.expected[::-1])[::-1][1:]
        return seen, np.clip(due / len(self), 0.0, 1.0)


def each_after(shares: MonthShares) -> Iterator[Array]:
    """Give (k,) chances to fall on the last month, then on the two last, up to all but one.

    One array, which is written over at each step.
    """
    late, told = np.zeros(len(shares)), np.zeros(len(shares))
    for month in np.ascontiguousarray(shares.share.T)[:0:-1]:
        late += month
        yield np.clip(late, 0.0, 1.0, out=told)


DAY = number_within(1.0, float(dt.date.max.toordinal() - 31))


@gate(first_day=DAY, last_day=DAY)
def month_edges(first_day: float, last_day: float) -> Array:
    """Return the ends and, between them, the first of each month as ordinal days.

    A first or last month of less than 15 days goes with its neighbour.

    Parameters
    ----------
    first_day, last_day : float
        Ordinal days between which the records lie.

    Returns
    -------
    (m + 1,) ndarray
        Ordinal days, rising.

    References
    ----------
    A calendar, no source.

    Examples
    --------
    >>> import fleetstats as fs
    >>> fs.month_edges(735_000, 735_100)
    array([735000., 735019., 735049., 735080., 735100.])
    """
    day = dt.date.fromordinal(int(first_day)).replace(day=1)
    out = [float(first_day)]
    while True:
        day = (day.replace(day=28) + dt.timedelta(days=7)).replace(day=1)
        # failures on the first itself come after the edge: days are closed above
        edge = day.toordinal() - 1.0
        if edge >= last_day - 15:
            break
        if edge - out[0] >= 15:
            out.append(edge)
    return np.array([*out, float(last_day)])


@gate(
    lines=an(Lines, "Make them by Lines(entry_h=..., end_h=..., entry_day=..., ...)."),
    failed=NUMBERS,
    edge_day=NUMBERS,
)
def month_shares(lines: Lines, failed: ArrayLike, edge_day: ArrayLike) -> MonthShares:
    """Return the months of failures with the chance of each month.

    Parameters
    ----------
    lines : Lines
        All lives that were at risk.
    failed : (k,) int
        Which of them failed; a line of weight 2 stands here twice.
    edge_day : (m + 1,) float
        Days between which the months lie.

    Returns
    -------
    MonthShares
        For `scan_change`.

    Raises
    ------
    FitError
        If `failed` names a line that is not there.

    References
    ----------
    Nelson (1972), Technometrics 14, 945-966; Aalen (1978), Annals of Statistics 6, 701-726; Cox
    (1972), J. R. Statist. Soc. B 34, 187-220.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lines = fs.CalendarLines(
    ...     entry_h=[0, 0],
    ...     end_h=[400, 650],
    ...     entry_day=[735_000, 735_100],
    ...     end_day=[735_900, 736_000],
    ...     weight=[1, 1],
    ... )
    >>> shares = fs.month_shares(lines, [0], [735_000, 735_500, 736_000])
    >>> shares.share
    array([[0., 1.]])
    """
    which = np.asarray(failed, dtype=np.int64)
    edge = np.asarray(edge_day, dtype=np.float64)
    if which.size and not 0 <= which.min() <= which.max() < len(lines):
        raise FitError("A failure of a life that is not among the lines.", "Count lines from 0.")
    return part_shares(lines, edge, [(None, which)])[0]


def part_shares(
    lines: Lines, edge_day: Array, parts: Sequence[tuple[Array | None, Array]]
) -> list[MonthShares]:
    """Return `month_shares` of parts of the lives, each beside its own lives alone.

    Parameters
    ----------
    lines : Lines
        All lives that were at risk.
    edge_day : (m + 1,) float
        Days between which the months lie.
    parts : sequence of ((n,) bool or None, (k,) int)
        Which lives are of the part, None for all, and which of the lines failed.
    """
    m = len(edge_day) - 1
    found = [np.unique(lines.end_h[which], return_inverse=True) for _, which in parts]
    asked = [(mine, ages) for (mine, _), (ages, _) in zip(parts, found, strict=True)]
    hours, days = (lines.entry_h, lines.end_h), (lines.entry_day, lines.end_day)
    told = passing_by_month(hours, days, lines.weight, asked, edge_day)
    out = []
    for (_, which), (_, row), passing in zip(parts, found, told, strict=True):
        after = np.searchsorted(edge_day, lines.end_day[which], side="left") - 1
        passing /= passing.sum(axis=1, keepdims=True)
        share = _of_failures(passing.T, row)
        out.append(MonthShares(edge_day=edge_day, month=np.clip(after, 0, m - 1), share=share))
    return out


def _of_failures(by_month: Array, which: Array) -> Any:
    """Return (k, m) some of the columns of shares by month (m, n), each month in one piece."""
    return Own(np.ascontiguousarray(by_month).take(which, axis=1).T)
