"""Which cells of a file were read from words, by column and way, for the one finding on each way.

A cell counts once however often its row is read, so that a second look changes no count.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from fleetstats.records.rows.row import RowInHand
from fleetstats.tables.doubt import FigureDoubt
from fleetstats.tables.doubt_days import ABOUT_DAYS
from fleetstats.vocabulary.finding import Finding, make_finding
from fleetstats.vocabulary.limits import ABOUT_SHARE
from fleetstats.vocabulary.wording import count

WAYS = {
    ("figure", "about"): "hours-in-words/about",
    ("figure", "range"): "hours-in-words/range",
    ("figure", "thousands"): "hours-in-words/thousands",
    ("figure", "at-least"): "hours-in-words/at-least",
    ("figure", "at-most"): "hours-in-words/at-most",
    ("day", "short-year"): "dates-in-words/short-year",
    ("day", "month"): "dates-in-words/month",
    ("day", "quarter"): "dates-in-words/quarter",
    ("day", "year"): "dates-in-words/year",
    ("day", "about"): "dates-in-words/about",
}
"""Kinds of doubt and the ways in which each is read = the finding that tells of it."""


@dataclass(slots=True)
class WordsRead:
    """The cells of one file that were read from words.

    `cells` holds, by kind and way, the row and column of each; `first` the first one's text and its
    column as the file calls it.
    """

    cells: dict[tuple[str, str], set[tuple[int, str]]] = field(default_factory=dict)
    first: dict[tuple[str, str], tuple[int, str, str]] = field(default_factory=dict)

    def note(self, row: RowInHand) -> None:
        """Take in what of a row was read from words."""
        for name, told in row.doubts.items():
            key = ("figure" if isinstance(told, FigureDoubt) else "day", told.how)
            self.cells.setdefault(key, set()).add((row.row.row, name))
            here = (row.row.row, row.match.shown.get(name, name), row.text(name)[:40])
            if key not in self.first or here[0] < self.first[key][0]:
                self.first[key] = here

    def findings(self, file: str, sheet: str = "") -> list[Finding]:
        """Return one finding for each way in which cells were read."""
        return [
            self._finding(kind, how, file, sheet) for kind, how in WAYS if (kind, how) in self.cells
        ]

    def _finding(self, kind: str, how: str, file: str, sheet: str) -> Finding:
        _, column, shown = self.first[kind, how]
        return make_finding(
            WAYS[kind, how],
            file=file,
            sheet=sheet,
            column=column,
            value=shown,
            cells=count(len(self.cells[kind, how]), "cell"),
            shown=shown,
            percent=100.0 * ABOUT_SHARE,
            days=ABOUT_DAYS,
        )
