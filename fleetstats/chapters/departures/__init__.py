"""What a study changed against the defaults, and what that changed in the records' counts."""

from fleetstats.chapters.departures.chapter import chapter_departures
from fleetstats.chapters.departures.compute import list_departures
from fleetstats.chapters.departures.section import chosen_lines, departure_lines
from fleetstats.chapters.departures.values import DepartureList

__all__ = ["DepartureList", "chapter_departures", "chosen_lines", "departure_lines",
           "list_departures"]  # fmt: skip
