"""Lives cut where an engine became another build, so that no build is credited with hours that
it did not run.

Hours before a modification cannot hold a failure of the modified engine: it had to survive to be
modified. Counted to the modified build they make it look better than it is (immortal time;
Suissa 2008, from memory).
"""

from __future__ import annotations

from dataclasses import replace

from fleetstats.records.life import LifeRow


def split_life(row: LifeRow, modified_h: float, build_after: str) -> tuple[LifeRow, ...]:
    """Return a life cut at the hours (on its own clock) of a modification: one or two lives."""
    if modified_h <= row.entry_h:
        return (replace(row, build=build_after, modified_h=None, build_after=""),)
    if modified_h >= row.exit_h:
        return (replace(row, modified_h=None, build_after=""),)
    good = row.last_good_h
    assumed = max(modified_h - (row.exit_h - row.carried_h), 0.0)
    before = replace(
        row, exit_h=modified_h, exit_low_h=None, exit_high_h=None, carried_h=assumed,
        modified_h=None, build_after="", ending="modified", cause="", confirmed=None,
        found_at_teardown=None, last_reading=None, ended=None,
        last_good_h=None if good is None else min(good, modified_h),
    )  # fmt: skip
    after = replace(
        row, entry_h=modified_h, carried_h=row.carried_h - assumed, build=build_after,
        modified_h=None, build_after="",
        exit_low_h=None if row.exit_low_h is None else max(row.exit_low_h, modified_h),
        observed_from=None, last_good_h=good if good is not None and good >= modified_h else None,
    )  # fmt: skip
    return (before, after)


def split_modified(row: LifeRow) -> tuple[LifeRow, ...]:
    """Return a life cut where its row says that the engine was modified; else the life alone."""
    if row.modified_h is None or not row.build_after:
        return (row,)
    return split_life(row, row.modified_h, row.build_after)
