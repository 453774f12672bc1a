"""Long chapters that may be worked out by the process beside this one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from fleetstats.advice.results import Results
from fleetstats.chapters.registry import CHAPTERS
from fleetstats.core.beside import Beside, Later, Shared
from fleetstats.core.value import Value
from fleetstats.studies.asked import Worked, work_noting


def ask_apart(
    keys: Iterable[str], shared: Shared[Results], found: Mapping[str, Value],
    beside: Beside | None, *, noting: bool = False,
) -> dict[str, Later[Worked]]:  # fmt: skip
    """Hand out chapters, each with what it needs of those found; nobody beside does it later here.

    Parameters
    ----------
    keys : iterable of str
        The chapters, in the order in which they are begun.
    shared : Shared
        The main results, which are sent once for all of them, or not at all.
    found : mapping
        The chapters that these need, by key; one that is missing there has no value.
    beside : Beside or None
        The process.
    noting : bool
        Whether to note what each asks for.
    """
    beside = beside or Beside(wanted=False)
    return {key: beside.ask(work_alone, key, shared, needed_of(key, found), noting) for key in keys}


def needed_of(key: str, found: Mapping[str, Value]) -> dict[str, Value]:
    """Return the chapters that one needs, of those found."""
    return {n: found[n] for n in CHAPTERS[key].needs if n in found}


def work_alone(key: str, base: Shared[Results], needs: dict[str, Value], noting: bool) -> Worked:
    """Return a chapter that asks the main results and the chapters that it needs alone."""
    if noting:
        return work_noting(key, base.value, needs)
    return Worked(CHAPTERS[key].work_out(base.value, needs))
