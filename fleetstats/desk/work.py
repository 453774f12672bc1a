"""Long work that a room begins or stops: a job of the desk, which the page then follows."""

from __future__ import annotations

from pathlib import Path

from fleetstats.core.errors import DataError
from fleetstats.desk.place import DeskPlace, Sent
from fleetstats.desk.words import words


def begin(place: DeskPlace, kind: str, *arguments: str, given: Path | None = None) -> str:
    """Begin a job; `given` is as for `Jobs.start`. Raises DataError where one is running."""
    if not place.jobs.start(kind, *arguments, given=given):
        raise DataError(words("report", "one_at_a_time"))
    return words("report", "begun")


def stop(place: DeskPlace, form: Sent) -> str:
    """Stop the job, and say what became of it."""
    del form
    return place.jobs.stop()
