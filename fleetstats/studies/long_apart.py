"""Chapters of a table read by chunks that may be worked out by the process beside this one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial

from fleetstats.advice.results import Results
from fleetstats.core.beside import Beside, Later, Shared
from fleetstats.core.value import Value
from fleetstats.studies.apart import needed_of
from fleetstats.studies.asked import Worked, work_noting
from fleetstats.studies.long_chapters import Long, work_long

LONG_APART = ("plan", "tabulated", "hidden")
"""The longest that ask no other chapter of such a table, in the order in which they are begun.

Of a million rows they take as long as all others together."""

FROM_ROWS = 2_000
"""Different lives below which these chapters take less time than it takes to split a process."""


def ask_long(
    keys: Sequence[str], base: Results, long: Long, found: Mapping[str, Value],
    beside: Beside | None, *, noting: bool,
) -> dict[str, Later[Worked]]:  # fmt: skip
    """Hand out some of `LONG_APART` where that pays; what is not handed out is not among them.

    Parameters
    ----------
    keys : sequence of str
        The chapters.
    base : Results
        What they are worked out from.
    long : Long
        What the table gives beside.
    found : mapping
        The chapters that are there.
    beside : Beside or None
        The process; where it must be sent what it works with, nothing is handed out.
    noting : bool
        Whether to note what each asks for.
    """
    if beside is None or not keys or len(base.spells) < FROM_ROWS:
        return {}
    shared = beside.share((base, long))
    if not beside.shares:
        return {}
    return {
        k: beside.ask(work_long_alone, k, shared, needed_of(k, found), noting) for k in keys
    }  # fmt: skip


def work_long_alone(
    key: str, shared: Shared[tuple[Results, Long]], needs: dict[str, Value], noting: bool
) -> Worked:
    """Return a chapter of a long table that asks the main results and what it needs alone."""
    base, long = shared.value
    if noting:
        return work_noting(key, base, needs, partial(work_of_long, long, key))
    return Worked(work_long(key, base, long, needs))


def work_of_long(
    long: Long, key: str, base: Results, done: Mapping[str, Value]
) -> Value | None:  # fmt: skip
    """Return `work_long`, what the table gives told first."""
    return work_long(key, base, long, done)
