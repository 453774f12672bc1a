"""The rooms of the desk. Each shows what stands in the folder, and does some acts on it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from fleetstats.desk.place import DeskPlace, Sent
from fleetstats.desk.rooms import answer, odd, question, records, report, years

Show = Callable[[DeskPlace, Sent], dict[str, Any]]
Does = Callable[[DeskPlace, Sent], str]


@dataclass(frozen=True, slots=True)
class Room:
    """One room: what it shows, and its acts by name."""

    show: Show
    acts: Mapping[str, Does]


ROOMS: dict[str, Room] = {
    "records": Room(records.show, records.ACTS),
    "odd": Room(odd.show, odd.ACTS),
    "question": Room(question.show, question.ACTS),
    "answer": Room(answer.show, answer.ACTS),
    "report": Room(report.show, report.ACTS),
    "years": Room(years.show, years.ACTS),
}
"""In the order of the work; each has a template and a file of words of its name."""
