"""Records at the ends of their clock factors' range."""

from __future__ import annotations

from collections.abc import Sequence

from fleetstats.records.clocks.clocks import ENDS, Factor, rescale_clock
from fleetstats.records.life import LifeRow
from fleetstats.study.settings import Settings


def rows_at_ends(
    rows: Sequence[LifeRow], settings: Settings, *, own: tuple[Factor, ...] = ()
) -> dict[str, tuple[LifeRow, ...]]:
    """Return the lives at the low and at the high end of every factor, by the name of the end.

    Empty when all rows were read from the standard clock, or every factor is exact: then there is
    nothing to run twice.
    """
    out = {
        end: rescale_clock(rows, settings, at=end, own=own).rows for end in ENDS if end != "factor"
    }
    changed = any(
        a.exit_h != b.exit_h for moved in out.values() for a, b in zip(moved, rows, strict=True)
    )
    return out if changed else {}
