"""The search of a file's rows for hints of trouble, cell by cell, before anything is made of them.

It looks at the cells as they are written, so that no mapping, rule or choice of the study file can
keep a row out of the ledger.
"""

from __future__ import annotations

import itertools
import operator
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from fleetstats.records.hours import MAX_HOURS, in_hours
from fleetstats.records.life import EXAMPLE_ENGINE
from fleetstats.records.rules import internal_cause
from fleetstats.records.trouble.hinted import Hinted
from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile
from fleetstats.tables.cells import CellError, is_blank, parse_flag, parse_number, text
from fleetstats.tables.columns import ColumnMatch
from fleetstats.tables.memo import Memo, texts_of
from fleetstats.tables.table import RawRow, RawTable
from fleetstats.vocabulary.endings import ENDINGS_BY_WORD, FAILING_ENDINGS
from fleetstats.vocabulary.events import EVENTS_BY_WORD
from fleetstats.vocabulary.fields.headers import meaning_of
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id
from fleetstats.vocabulary.meters import meter_kind
from fleetstats.vocabulary.trouble import FAILURE, SIGN, has_letters, hint_of, names_failure

LABELS = ("engine", "source", "build", "modified_to", "meter", "serial", "position", "component")
"""Columns that name something; a word of trouble in a name is none."""

FAILING = {"lives": (*FAILING_ENDINGS, "removed-finding"), "log": ("failed", "finding")}
"""Endings and kinds of event that tell of a failure or a fault by themselves."""

STAYED = ("finding", "unscheduled", "top-overhaul", "part-removed", "part-fitted")
"""Events of trouble after which the engine stayed in service."""

GOES_ON = {
    "lives": ("running", "lost"),
    "log": ("reading", "check", "installed", "returned", "meter-changed", "lost"),
}
"""Endings and kinds of event after which nothing is said to have happened to the engine."""

PLAIN_NO = ("", "0", "0.0", "n", "f", "false", "no", "ok")
"""What a column such as "failed at" holds where nothing failed, besides words for unknown."""


@dataclass(frozen=True, slots=True)
class Cells:
    """Where a file has what: our columns, those that are not used, and those that tell."""

    index: dict[str, int]
    shown: dict[str, str]
    unused: tuple[tuple[int, str], ...]
    naming: frozenset[int]


def cells_of(match: ColumnMatch, header: Iterable[str]) -> Cells:
    """Return the columns of a file as the search needs them."""
    taken = set(match.index.values())
    unused = tuple(
        sorted(
            ((i, h or f"column {i + 1}") for i, h in enumerate(header) if i not in taken),
            key=lambda column: column[1],
        )
    )
    naming = frozenset(i for i, h in unused if names_failure(h))
    return Cells(index=match.index, shown=match.shown, unused=unused, naming=naming)


MOST_QUIET = 50_000
"""Different words of ends, causes and flags kept that hint at nothing, or at the same."""


class Scanner:
    """The search of one file.

    Parameters
    ----------
    settings : Settings
        Which causes are internal, and the unit of hours.
    file : RecordFile
        Its maps of words.
    shape : str
        "lives" or "log".
    match, table
        The columns of the file, and its name, sheet and header.
    decimal : str
        Its decimal mark.
    """

    def __init__(
        self,
        settings: Settings,
        file: RecordFile,
        shape: str,
        match: ColumnMatch,
        table: RawTable,
        decimal: str = ".",
    ) -> None:
        self.settings, self.file, self.shape, self.table = settings, file, shape, table
        self.decimal = decimal
        self.cells = cells_of(match, table.header)
        log = shape == "log"
        self.end_name, self.hours_name = ("kind", "hours") if log else ("ending", "exit_hours")
        own = file.kinds if log else file.endings
        self.built_in: dict[str, str] = (
            dict(EVENTS_BY_WORD) if log else {w: e for w, (e, _) in ENDINGS_BY_WORD.items()}
        )
        self.implied = {} if log else {w: c for w, (_, c) in ENDINGS_BY_WORD.items() if c}
        self.ends = self.built_in | {fold(w): e for w, e in own.items()}
        self.causes = {fold(w): c for w, c in file.causes.items()}
        self.flags = [n for n in ("confirmed", "found_at_teardown") if n in match.index]
        apart = {self.end_name, "cause", *self.flags, *LABELS}
        # by our names, so that the order of a file's columns changes nothing
        self.texts = [(at, match.shown.get(n, n)) for n, at in sorted(match.index.items())
                      if n not in apart]  # fmt: skip

        self.free = [at for at, _ in (*self.texts, *self.cells.unused)
                     if at not in self.cells.naming]  # fmt: skip
        # what else is looked at, by its meaning
        known = (self.end_name, "cause", *self.flags)
        named = {match.index[n] for n in known if n in match.index}
        self.telling = sorted(named | self.cells.naming)
        self.quiet: set[tuple[Any, ...]] = set()
        self.told: dict[tuple[Any, ...], dict[str, Any]] = {}
        self.read: Memo[str] = Memo(_said)
        self.figure: Memo[float | None] = Memo(self._figure)

    def scan(self, rows: Sequence[RawRow]) -> tuple[Hinted, ...]:
        """Return the rows that hint at trouble, as `hinted` tells of each."""
        cells = [r.cells for r in rows]
        loud = self._loud(cells)
        found: list[Hinted] = []
        for i, said in enumerate(self._said_by(cells)):
            # known to hint at nothing: `is_quiet`, its texts looked at by columns
            plain = i not in loud
            if plain and said in self.quiet:
                continue
            hint = self.hinted(rows[i], plain=plain)
            if hint is not None:
                found.append(hint)
        return tuple(found)

    def _said_by(self, cells: Sequence[tuple[Any, ...]]) -> Iterable[tuple[Any, ...]]:
        """Yield what the telling columns of each row hold."""
        if not self.telling:
            return itertools.repeat((), len(cells))
        return zip(*(map(operator.itemgetter(at), cells) for at in self.telling), strict=True)

    def _loud(self, cells: Sequence[tuple[Any, ...]]) -> set[int]:
        """Return the places of rows with a text in a free column that hints at something."""
        out: set[int] = set()
        for at in self.free:
            column = list(map(operator.itemgetter(at), cells))
            hints = {c for c in texts_of(column)[0] if has_letters(c) and hint_of(c) is not None}
            if hints:
                out.update(i for i, c in enumerate(column) if type(c) is str and c in hints)
        return out

    def is_quiet(self, cells: tuple[Any, ...]) -> bool:
        """Return whether a row is known to hint at nothing, as most do: its words say nothing."""
        if tuple([cells[at] for at in self.telling]) not in self.quiet:
            return False
        for at in self.free:
            cell = cells[at]
            if type(cell) is str and has_letters(cell) and hint_of(cell) is not None:
                return False
        return True

    def hinted(self, raw: RawRow, *, plain: bool = False) -> Hinted | None:
        """Return what a row hints at, or None.

        `plain` says that no text in a free column of the row hints at anything: what it hints at is
        then what its telling columns say, which is worked out once for all rows that say the same.
        """
        cells = raw.cells
        if not plain and self.is_quiet(cells):
            return None
        said = tuple([cells[at] for at in self.telling])
        told = self.told.get(said) if plain else None
        if told is None:
            told = self._told(cells, plain=plain)
            # only texts: other cells may be equal and yet of different kinds
            if all(c is None or type(c) is str for c in said):
                if not told:
                    self._keep_quiet(said)
                elif plain and len(self.told) < MOST_QUIET:
                    self.told[said] = told
        if not told or normalise_id(self._text(cells, "engine")) == EXAMPLE_ENGINE:
            return None
        return Hinted(
            file=self.table.file, row=raw.row, sheet=self.table.sheet,
            engine=self._text(cells, "engine"),
            source=self._text(cells, "source") or self.file.source,
            build=self._text(cells, "build"), component=fold(self._text(cells, "component")),
            hours_h=self._hours(cells), meter=self._meter(cells), count=self._count(cells),
            **told,
        )  # fmt: skip

    def _told(self, cells: tuple[Any, ...], *, plain: bool) -> dict[str, Any]:
        """Return what the words of a row hint at, by the fields of `Hinted`; empty for nothing."""
        index = self.cells.index
        found: list[tuple[str, str, str]] = []  # grade, column, words
        told_h: float | None = None
        ending, cause = self._ending(cells, found), self._cause(cells, found)
        for at, column in () if plain else (*self.texts, *self.cells.unused):
            cell = cells[at]
            if at in self.cells.naming or type(cell) is not str or not has_letters(cell):
                continue
            hint = hint_of(cell)
            if hint is not None:
                found.append((hint.grade, column, cell))
                told_h = hint.hours_h if told_h is None else told_h
        confirmed = None
        for name in self.flags:
            said = _flag(cells[index[name]])
            confirmed = said if name == "confirmed" else confirmed
            if said:
                found.append((FAILURE, self._shown(name), text(cells[index[name]])))
        filled = [at for at in sorted(self.cells.naming) if _filled(cells[at])]
        for at in filled:
            found.append((FAILURE, self.table.header[at], text(cells[at])))
            told_h = self._figure(cells[at]) if told_h is None else told_h
        if not found:
            return {}
        ours = meaning_of(self._text(cells, self.end_name), self.built_in)
        failing = ending in FAILING[self.shape] or ours in FAILING[self.shape]
        case = "column" if filled and not failing else self._untold(ending, cause, confirmed)
        beside = self._beside([c for _, c, _ in found], [self.table.header[at] for at in filled])
        return beside | {
            "ending": ending,
            "cause": cause,
            "columns": tuple(c for _, c, _ in found),
            "words": tuple(text(w) for _, _, w in found),
            "grade": FAILURE if any(g == FAILURE for g, _, _ in found) else SIGN,
            "confirmed": confirmed,
            "failing": failing,
            "unread": ending == "" and self._text(cells, self.end_name) != "",
            "untold": case,
            "told_h": told_h,
        }

    def _keep_quiet(self, said: tuple[Any, ...]) -> None:
        """Keep what the telling columns of a row say that do not hint at anything."""
        if len(self.quiet) < MOST_QUIET:
            self.quiet.add(said)

    def _beside(self, columns: list[str], naming: list[str]) -> dict[str, Any]:
        own = {self._shown(n) for n in (self.end_name, "cause", *self.flags)}
        unused = {h for _, h in self.cells.unused}
        beside = tuple(dict.fromkeys(c for c in columns if c not in own))
        return {
            "beside": beside,
            "unused": tuple(c for c in beside if c in unused),
            "naming": tuple(naming),
        }

    def _shown(self, name: str) -> str:
        return self.cells.shown.get(name, name)

    def _text(self, cells: tuple[Any, ...], name: str) -> str:
        at = self.cells.index.get(name)
        return "" if at is None else self.read(cells[at])

    def _ending(self, cells: tuple[Any, ...], found: list[tuple[str, str, str]]) -> str:
        """Return what an ending or a kind is read as; note it where it tells of trouble."""
        word = self._text(cells, self.end_name)
        ending = meaning_of(word, self.ends) or ""
        ours = meaning_of(word, self.built_in)
        if word and (not ending or ending in FAILING[self.shape] or ours in FAILING[self.shape]):
            found.append((FAILURE, self._shown(self.end_name), word))
        elif word and ours is None:
            hint = hint_of(word)
            if hint is not None:
                found.append((hint.grade, self._shown(self.end_name), word))
        return ending

    def _cause(self, cells: tuple[Any, ...], found: list[tuple[str, str, str]]) -> str:
        """Return the cause as the study file maps it; note it where it is a fault of the engine."""
        word = self._text(cells, "cause")
        if not word:
            return meaning_of(self._text(cells, self.end_name), self.implied) or ""
        cause = self.causes.get(fold(word), word)
        hint = hint_of(word)
        if hint is not None:
            found.append((hint.grade, self._shown("cause"), word))
        elif any(internal_cause(c, self.settings.question) for c in (word, cause)):
            found.append((SIGN, self._shown("cause"), word))
        return cause

    def _untold(self, ending: str, cause: str, confirmed: bool | None) -> str:
        """Return the case in which an engine that goes on has a fault all the same."""
        if ending not in GOES_ON[self.shape] or confirmed is False:
            return ""
        internal = internal_cause(cause, self.settings.question)
        return "running" if internal or confirmed else ""

    def _figure(self, cell: Any) -> float | None:
        """Return a cell as hours that an engine can have."""
        try:
            hours = in_hours(cell, self.decimal, self.settings.hours.unit)
        except CellError:
            return None
        return hours if hours is not None and 0.0 <= hours <= MAX_HOURS else None

    def _hours(self, cells: tuple[Any, ...]) -> float | None:
        """Return the hours of the row's end, since the overhaul where lives are counted so."""
        at = self.cells.index.get(self.hours_name)
        hours = None if at is None else self.figure(cells[at])
        if hours is None or self.settings.hours.basis != "since-overhaul":
            return hours
        index = self.cells.index
        since, over = index.get("since_overhaul_hours"), index.get("overhauled_at_hours")
        if since is not None and (own := self._figure(cells[since])) is not None:
            return own
        begun = None if over is None else self._figure(cells[over])
        return hours if begun is None or begun > hours else hours - begun

    def _meter(self, cells: tuple[Any, ...]) -> str:
        usual = self.file.meter or self.settings.hours.meter
        return meter_kind(self._text(cells, "meter")) or usual

    def _count(self, cells: tuple[Any, ...]) -> int:
        at = self.cells.index.get("count")
        try:
            n = None if at is None else parse_number(cells[at], self.decimal, what="a count")
        except CellError:
            return 1
        return int(n) if n is not None and 1 <= n <= 1_000_000 and n == int(n) else 1


def _said(cell: Any) -> str:
    """Return what a cell says, as text."""
    return "" if is_blank(cell) else text(cell)


def _flag(cell: Any) -> bool | None:
    try:
        return parse_flag(cell)
    except CellError:
        return None


def _filled(cell: Any) -> bool:
    """Return whether a cell of a column such as "failed at" says that something failed."""
    return not is_blank(cell) and fold(text(cell)) not in PLAIN_NO and _flag(cell) is not False
