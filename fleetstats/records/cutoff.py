"""Records as they would have stood at an earlier date.

The date to which records are complete is fixed before they are drawn. A period that begins or ends
because of a failure answers itself; looking back from other dates shows whether the answer hangs
on the one that was chosen.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from fleetstats.core.value import Value, changed, value
from fleetstats.records.life import LifeRow


@value
class AsOf(Value):
    """Lives as of a date.

    Parameters
    ----------
    rows : tuple of LifeRow
        Lives begun by then; those that ended later are running at the hours that they had.
    date : date
    n_later : int
        Lives that begin later.
    n_undated : int
        Lives left out since their dates do not tell where they stood.
    n_cut : int
        Lives that ended after the date and are running at it.
    """

    rows: tuple[LifeRow, ...]
    date: dt.date
    n_later: int
    n_undated: int
    n_cut: int


def has_beginning(row: LifeRow) -> bool:
    """Return whether a life has the date of its beginning."""
    return row.observed_from is not None or row.in_service is not None


def without_carried(row: LifeRow) -> LifeRow:
    """Return a life up to its last reading, without hours that were assumed since."""
    if not row.carried_h:
        return row
    # a reading of 900 h comes back as 900 h
    return changed(row, exit_h=round(row.exit_h - row.carried_h, 9), carried_h=0.0)


def rows_as_of(rows: Iterable[LifeRow], date: dt.date) -> AsOf:
    """Return the lives as they stood on a date.

    Parameters
    ----------
    rows : iterable of LifeRow
        Lives with the dates of their beginning and end.
    date : date
        The earlier cut-off.

    Returns
    -------
    AsOf
        Hours on the date are read off the straight line between the two ends of the life; hours
        that were carried on from the last reading are no part of it.

    Notes
    -----
    A life without the date of its beginning is left out even where it ended before the cut: those
    that ran on past it cannot be cut, and to keep the ended ones alone would keep failures and drop
    their exposure. At a date that no life passes, nothing is cut and each dated end counts.
    """
    rows = tuple(without_carried(r) for r in rows)
    passed = any(r.last_date is None or r.last_date > date for r in rows)
    out: list[LifeRow] = []
    later = undated = cut = 0
    for row in rows:
        end = row.last_date
        begun, from_h = row.observed_from, row.entry_h
        if begun is None and row.in_service is not None:
            begun, from_h = row.in_service, 0.0
        if end is not None and end <= date and (begun is not None or not passed):
            out.append(row)
        elif begun is not None and begun >= date:
            later += row.count
        elif end is None or begun is None:
            undated += row.count
        else:
            share = (date - begun).days / (end - begun).days
            hours = from_h + share * (row.exit_h - from_h)
            if hours <= row.entry_h:
                later += row.count
                continue
            cut += row.count
            good = row.last_good_h
            out.append(
                changed(
                    row,
                    exit_h=hours,
                    exit_low_h=None,
                    exit_high_h=None,
                    ending="running",
                    cause="",
                    confirmed=None,
                    found_at_teardown=None,
                    last_reading=date,
                    ended=None,
                    last_good_h=None if good is None else min(good, hours),
                )
            )
    return AsOf(rows=tuple(out), date=date, n_later=later, n_undated=undated, n_cut=cut)
