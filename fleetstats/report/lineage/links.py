"""Where a text prints a figure that is traced: its parts, some of them linked.

The forms of words by which a report is held against itself (`chapters/consistency`) say which
quantity stands where; so a link is as sure as that check. Elsewhere a figure is known by how it is
printed, where only one of them is printed so.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from fleetstats.advice.results import Results
from fleetstats.chapters.consistency import Form, list_forms
from fleetstats.studies.lineage import Lineage
from fleetstats.vocabulary.slugs import slug

Part = tuple[str, str]
"""A piece of a text, and the key of the figure that it prints; blank where it prints none."""

_WORDS = r"(?:engines?|lives|life|failures?|engine hours|unreported failures?|in [\d,]+|h)"
_HOURS = re.compile(r" h(?![a-z])")
_PRINTED = re.compile(rf"[\d,.]+ {_WORDS}$")
"""What is told from all other numbers by the word or unit that it is printed with."""


@dataclass(frozen=True, slots=True)
class FigureLinks:
    """What is known of the figures of one report, to be found in its texts."""

    lineage: Lineage
    forms: tuple[Form, ...]

    def without_lives(self) -> FigureLinks:
        """Return the links alone: where a figure stands does not rest on its lives."""
        figures = tuple(replace(f, lives=()) for f in self.lineage.figures)
        return replace(self, lineage=replace(self.lineage, figures=figures, lives=None))

    def link_figures(self, text: str) -> tuple[Part, ...]:
        """Return a text in parts: each with the key of the figure that it prints, or none."""
        said = _as_said(text)
        own = [f for f in self.forms if not f.table and f.needs in said]
        spans = [
            (m.start("v"), _with_unit(said, m.end("v")), slug(f.key))
            for f in own
            if slug(f.key) in self.lineage
            for m in f.form.finditer(said)
        ]
        taken = _apart(spans)
        for start, end, key in _printed(said, self._alone()):
            if all(end <= a or b <= start for a, b, _ in taken):
                taken = _apart([*taken, (start, end, key)])
        return _cut(text, taken)

    def link_among(self, text: str, keys: Iterable[str]) -> tuple[Part, ...]:
        """Return a text in parts where only some figures can stand in it."""
        known = {p: k for k in keys if k in self.lineage for p in self.lineage[k].printed}
        return _cut(text, _apart(_printed(_as_said(text), known)))

    def of_cell(self, table: str, row: int, name: str, column: str) -> tuple[str, ...]:
        """Return the figures that a cell of the first screen may print.

        Parameters
        ----------
        table, row, name, column : str, int, str, str
            Key of the table, number of the row from 0, text of its first cell, key of the column.
        """
        if table == "first-weakest":
            keys = [k.key for k in self.lineage.figures
                    if k.key.startswith(f"weak-point-{row + 1}-")]  # fmt: skip
            limits = tuple(k for k in keys if k.endswith("-its-limit"))
            own = tuple(k for k in keys if k not in limits)
            return {"figure": own, "limit": limits, "point": own + limits}.get(column, ())
        group = {"first-builds": "build", "first-sources": "source"}.get(table)
        if group is not None and column == "failure_high":
            return (slug(f"{group} {name}: chance of failure by the claim, upper bound"),)
        return ()

    def _alone(self) -> dict[str, str]:
        """Return what only one figure is printed as, and the figure."""
        times = Counter(p for f in self.lineage.figures for p in set(f.printed))
        return {p: f.key for f in self.lineage.figures for p in f.printed
                if times[p] == 1 and _PRINTED.match(p)}  # fmt: skip


def find_links(results: Results, lineage: Lineage) -> FigureLinks:
    """Return what links the figures in a report's texts to what they rest on."""
    return FigureLinks(lineage=lineage, forms=tuple(list_forms(results)))


def _with_unit(text: str, end: int) -> int:
    """Return where a number ends: with its unit where that is hours, without a comma behind it."""
    while text[end - 1] in ",.":
        end -= 1
    found = _HOURS.match(text, end)
    return end if found is None else found.end()


def _as_said(text: str) -> str:
    """Return a text as sentences are written, letter for letter: blanks that keep words together
    are blanks.
    """
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def _printed(text: str, known: dict[str, str]) -> list[tuple[int, int, str]]:
    out = []
    for printed in sorted(known, key=len, reverse=True):
        if printed in text:
            found = re.finditer(rf"(?<![\w.,]){re.escape(printed)}(?!\w|[.,]\d)", text)
            out += [(m.start(), m.end(), known[printed]) for m in found]
    return out


def _apart(spans: list[tuple[int, int, Any]]) -> list[tuple[int, int, Any]]:
    """Return spans in order, the longer first where two overlap."""
    out: list[tuple[int, int, Any]] = []
    for start, end, key in sorted(spans, key=lambda s: (s[0] - s[1], s[0])):
        if start < end and all(end <= a or b <= start for a, b, _ in out):
            out.append((start, end, key))
    return sorted(out)


def _cut(text: str, spans: list[tuple[int, int, Any]]) -> tuple[Part, ...]:
    out: list[Part] = []
    at = 0
    for start, end, key in spans:
        out += [(text[at:start], ""), (text[start:end], key)]
        at = end
    return tuple(p for p in [*out, (text[at:], "")] if p[0])
