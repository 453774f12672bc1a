"""Which reports tell of the same life of an engine, and lives laid end to end once merged.

Returns put one overhaul at hours that differ a little. So two lives that share no more hours than
the tolerance where one ends and the other begins are two, one after the other; and what one return
tells as two ends never becomes one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow
from fleetstats.records.merging.alike import LEAST_REACH_H, alike_h
from fleetstats.records.merging.merge_lives import OPEN, span
from fleetstats.records.told_values import moved
from fleetstats.study.pool_settings import MergeKeys

ROUNDING_H = 1e-6
"""Hours that sums of a start and a length may be off: no clock reads them."""


@value
class Strand(Value):
    """A life as merged so far, and the reports that it was made from."""

    row: LifeRow
    reports: tuple[LifeRow, ...]


def sender(row: LifeRow) -> tuple[str, str]:
    """Return whose report a life is: what one sender tells is never merged with itself alone."""
    return row.log_file or row.origin.file, row.source


def shared_h(a: LifeRow, b: LifeRow) -> float:
    """Return the hours that two lives share; negative where hours lie between them."""
    (a0, a1), (b0, b1) = span(a), span(b)
    return min(a1, b1) - max(a0, b0)


def touch(a: LifeRow, b: LifeRow, merge: MergeKeys) -> bool:
    """Return whether two reports tell of the same hours, or one goes on where the other still ran.

    Hours shared where one ends and the other begins are no sign of it while they are within the
    tolerance, unless they are more than half of the shorter life.
    """
    first, second = sorted((a, b), key=span)
    end, start = span(first)[1], span(second)[0]
    shared = shared_h(a, b)
    if first.ending in OPEN and alike_h(a.life_start_h, b.life_start_h, merge):
        return shared >= -LEAST_REACH_H
    shorter = min(x.exit_h - x.entry_h for x in (a, b))
    return shared > 0.0 and (not alike_h(end, start, merge) or shared > 0.5 * shorter)


def in_time(strand: Strand) -> tuple[tuple[float, float], str]:
    """Return what puts lives of one engine in the order of their hours."""
    return span(strand.row), str(strand.row.origin)


def find_strand(
    strands: Sequence[Strand], new: Strand, merge: MergeKeys, later: Sequence[Strand] = ()
) -> int | None:
    """Return the index of the life that another tells of too, the one it shares most hours with.

    Parameters
    ----------
    strands : sequence of Strand
        Lives of the engine so far.
    new : Strand
        A life that is none of them; they are to come in the order of their hours.
    merge : MergeKeys
        The tolerance.
    later : sequence of Strand
        Lives not yet asked about.
    """
    fit = [
        i
        for i, x in enumerate(strands)
        if not _told_otherwise(x, new)
        and not _is_the_next(x, new, later)
        and (touch(x.row, new.row, merge) or _next_alike(strands, x, new, merge))
    ]
    return max(fit, key=lambda i: shared_h(strands[i].row, new.row)) if fit else None


def _told_otherwise(x: Strand, new: Strand) -> bool:
    """Return whether one sender told both lives as two: with an end between them, or alone."""
    if len({sender(r) for r in (*x.reports, *new.reports)}) < 2:
        return True
    return any(
        sender(r) == sender(own) and min((r, own), key=span).ending not in OPEN
        for r in x.reports
        for own in new.reports
    )


def _is_the_next(x: Strand, new: Strand, later: Sequence[Strand]) -> bool:
    """Return whether a sender of `x` tells of a later life that shares as many hours with `new`.

    Else a short life whose overhaul was told a little early would be taken for the life before it,
    and that one would be lost.
    """
    tells = {sender(r) for r in x.reports}
    shared = shared_h(x.row, new.row)
    return any(
        shared_h(y.row, new.row) >= shared and any(sender(r) in tells for r in y.reports)
        for y in later
        if _told_otherwise(x, y)
    )


def _next_alike(strands: Sequence[Strand], x: Strand, new: Strand, merge: MergeKeys) -> bool:
    """Return whether two lives both follow the same end, so are the same in order.

    It finds lives so short that the tolerance alone could not tell them from their neighbours.
    """
    start = x.row.life_start_h
    if not start or not alike_h(start, new.row.life_start_h, merge):
        return False
    if shared_h(x.row, new.row) <= 0.0 and not alike_h(span(x.row)[1], span(new.row)[1], merge):
        return False
    return any(
        all(
            any(
                sender(r) == sender(own) and _leads_to(r, life.row, merge)
                for r in s.reports
                for own in life.reports
            )
            for life in (x, new)
        )
        for s in strands
        if s is not x
    )


def _leads_to(before: LifeRow, after: LifeRow, merge: MergeKeys) -> bool:
    return before.ending not in OPEN and alike_h(span(before)[1], span(after)[0], merge)


def lay_in_order(strands: Sequence[Strand]) -> list[tuple[Strand, str]]:
    """Return lives that share no hours, since one overhaul was told at two, and what was done.

    The later life begins where the one before it ends; where it would be left without hours, the
    one before it ends where the later begins. Lives that overlap in one return are left as they
    are: the audit asks about them.
    """
    out: list[tuple[Strand, str]] = []
    for strand in sorted(strands, key=in_time):
        k = max(range(len(out)), key=lambda i: span(out[i][0].row)[1], default=None)
        if k is None or _overlap_in_one(out[k][0], strand):
            out.append((strand, ""))
            continue
        before, end, start = out[k][0], span(out[k][0].row)[1], span(strand.row)[0]
        if end <= start:
            out.append((strand, ""))
        elif span(strand.row)[1] > end:
            step = f"begins at {end:g} h, the end told by {before.row.origin}"
            out.append((replace(strand, row=_begun_at(strand.row, end)), step))
        elif start > span(before.row)[0]:
            step = f"ends at {start:g} h, the beginning told by {strand.row.origin}"
            out[k] = (replace(before, row=_ended_at(before.row, start)), step)
            out.append((strand, ""))
        else:
            out.append((strand, ""))
    return out


def _overlap_in_one(a: Strand, b: Strand) -> bool:
    return any(
        sender(x) == sender(y) and shared_h(x, y) > ROUNDING_H for x in a.reports for y in b.reports
    )


def _begun_at(row: LifeRow, hours: float) -> LifeRow:
    """Return a life that begins at `hours` since new; its hours since new stay what they were."""
    good = row.last_good_h
    if row.life_start_h and not row.entry_h:
        shift = hours - row.life_start_h
        at = row.modified_h
        return replace(
            row,
            life_start_h=hours,
            exit_h=row.exit_h - shift,
            exit_low_h=None if row.exit_low_h is None else max(row.exit_low_h - shift, 0.0),
            exit_high_h=None if row.exit_high_h is None else row.exit_high_h - shift,
            last_good_h=None if good is None else max(good - shift, 0.0),
            modified_h=None if at is None else at - shift,
            categories=moved(row.categories, less=shift),
        )
    entry = hours - row.life_start_h
    return replace(row, entry_h=entry, last_good_h=None if good is None else max(good, entry))


def _ended_at(row: LifeRow, hours: float) -> LifeRow:
    end, good = hours - row.life_start_h, row.last_good_h
    low = None if row.exit_low_h is None else min(row.exit_low_h, end)
    return replace(
        row,
        exit_h=end,
        exit_low_h=low,
        exit_high_h=None,
        last_good_h=None if good is None else min(good, end),
    )
