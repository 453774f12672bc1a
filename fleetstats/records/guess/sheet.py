"""One sheet guessed: where its names stand, its shape, columns, words, and ways of writing."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from fleetstats.records.guess.columns import Columns, guess_columns, unused_columns
from fleetstats.records.guess.guess import (
    OPEN,
    Given,
    Guess,
    GuessedCounts,
    GuessedSheet,
    PassedSheet,
)
from fleetstats.records.guess.happenings import happenings_of
from fleetstats.records.guess.header import Header, find_header
from fleetstats.records.guess.profile import Profile, profile
from fleetstats.records.guess.shape import guess_shape
from fleetstats.records.guess.shapes import FIELDS_OF
from fleetstats.records.guess.titles import TitleDay, find_title_day
from fleetstats.records.guess.ways import counts_minutes, dates_of, guess_ways, meter_in_heads
from fleetstats.records.guess.words import (
    TROUBLED,
    guess_causes,
    guess_endings,
    guess_kinds,
    words_of,
)
from fleetstats.records.trouble.scan import PLAIN_NO
from fleetstats.tables.cells import is_blank, text
from fleetstats.tables.grid import SheetGrid
from fleetstats.tables.table import RawRow
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id
from fleetstats.vocabulary.totals import reads_as_total
from fleetstats.vocabulary.trouble import FAILURE, hint_of, may_hint, names_failure
from fleetstats.vocabulary.wording import count

ROWS_NAMED: Final = 4
NOTHING_GIVEN: Final = Given()


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadSheet:
    """A sheet guessed, with what the study as a whole is guessed from.

    `troubled` are the engines of rows that tell of a failure, or whose word is open.
    """

    sheet: GuessedSheet
    dates: Mapping[dt.date, int]
    meter: str
    meter_head: str
    minutes: str
    engines: frozenset[str]
    title_day: TitleDay | None = None
    troubled: frozenset[str] = frozenset()


def read_sheet(
    grid: SheetGrid, source: Guess, given: Given = NOTHING_GIVEN
) -> ReadSheet | PassedSheet:
    """Guess one sheet, or say why it holds no records; what is `given` of it is not guessed.

    A sheet that is no table of records while a cell of it says that something failed is not passed
    over, nor is one that could not be read: it stands in the study with what it lacks, until a
    person takes it out.
    """
    if grid.problem:
        return _stop(grid, 0, f"It was not read: {grid.problem}", ())
    header = find_header(grid, given.header_row) if grid.lines else None
    if header is None:
        return _unless_trouble(grid, 0, "No line of it looks like column names over rows.")
    body = grid.lines[header.at + 1 :]
    if not body:
        return _passed(grid, "It has column names and no row.")
    columns = _profiles(header, body)
    shape = guess_shape(columns, given)
    if isinstance(shape, str):
        return _unless_trouble(grid, header.at, f"{shape} {count(len(body), 'row')}.")
    return _read(grid, header, body, columns, shape, source)


def _passed(grid: SheetGrid, reason: str) -> PassedSheet:
    return PassedSheet(file=grid.file, sheet=grid.sheet, reason=reason)


def _unless_trouble(grid: SheetGrid, at: int, reason: str) -> ReadSheet | PassedSheet:
    """Pass a sheet over, unless a cell below a line says that something failed."""
    hints = row_hints(grid.lines[at:], {}, ())
    if not hints:
        return _passed(grid, reason)
    row, said = next(iter(hints.items()))
    n = count(len(hints), "row")
    told = f"{n} hint{'s' if len(hints) == 1 else ''} at a failure (row {row}: '{said[:60]}')"
    return _stop(grid, at, f"{reason} But {told}", tuple(hints))


def _stop(grid: SheetGrid, at: int, reason: str, rows: tuple[int, ...]) -> ReadSheet:
    """Return a sheet at which the study stops until a person has looked at it."""
    shape = Guess(
        what="shape",
        value="lives",
        sure=OPEN,
        reason=f"{reason.rstrip('.')}. Take these lines out if they are no records; else say which "
        "column is which",
        alternatives=("lives", "log"),
        rows=rows[:ROWS_NAMED],
        n_rows=len(rows),
        effect="the study stops here",
    )
    lacking = tuple(
        Guess(what=f.name, value="", sure=OPEN, reason="no column is plainly this")
        for f in FIELDS_OF["lives"]
        if f.required
    )
    row = grid.lines[at].row if grid.lines else 1
    sheet = GuessedSheet(
        file=grid.file, sheet=grid.sheet, header_row=row, header_stated=False,
        header_reason="the first line with content", shape=shape, columns=lacking, settings=(),
        endings=(), kinds=(), causes=(), treat=(), unused=(),
        counts=GuessedCounts(n_rows=max(0, len(grid.lines) - at), n_engines=0, by_word={}),
    )  # fmt: skip
    return ReadSheet(sheet=sheet, dates={}, meter="", meter_head="", minutes="",
                     engines=frozenset())  # fmt: skip


def _profiles(header: Header, body: Sequence[RawRow]) -> list[Profile]:
    width = len(header.heads)
    cells = zip(*(r.cells[:width] + (None,) * (width - len(r.cells)) for r in body), strict=True)
    return [
        profile(at, header.heads[at], header.above[at], column, n_columns=width)
        for at, column in enumerate(cells)
    ]


def _read(
    grid: SheetGrid,
    header: Header,
    body: Sequence[RawRow],
    columns: list[Profile],
    told: tuple[Guess, Columns],
    source: Guess,
) -> ReadSheet:
    shape, found = told
    engine_at = found.index.get("engine", found.index.get("specimen"))
    rows = [r for r in body if not _is_total(r, engine_at)]
    happen = happenings_of(columns) if found.shape == "histories" else {}
    left = [c for c in columns if c.at not in happen]
    words, n_open, n_blank, by_word, ill = _words(found, rows, header)
    ways, first = guess_ways(found, rows, grid.delimiter)
    meter, head = meter_in_heads(found)
    settings = [*ways] if "source" in found.index else [source, *ways]
    treat = _blank_endings(n_blank, len(rows)) if found.shape == "lives" else ()
    named = {
        r.row: normalise_id(text(c))
        for r in rows
        if engine_at is not None and engine_at < len(r.cells)
        and not is_blank(c := r.cells[engine_at])
    }  # fmt: skip
    engines = frozenset(named.values())
    sheet = GuessedSheet(
        file=grid.file,
        sheet=grid.sheet,
        header_row=grid.lines[header.at].row,
        header_stated=header.at > 0 and not grid.names_at,
        header_reason=header.reason,
        shape=shape,
        columns=guess_columns(found, columns),
        settings=tuple(settings),
        endings=words["endings"],
        kinds=words["kinds"],
        causes=words["causes"],
        treat=treat,
        unused=unused_columns(found, left),
        counts=GuessedCounts(
            n_rows=len(rows), n_engines=len(engines), by_word=by_word, n_open=n_open,
            n_blank=n_blank,
        ),
    )  # fmt: skip
    return ReadSheet(
        sheet=sheet,
        dates=dates_of(found, rows, first),
        meter="" if "meter" in found.index else meter,
        meter_head=head,
        minutes=counts_minutes(found),
        engines=engines,
        troubled=frozenset(e for row, e in named.items() if row in ill),
        title_day=find_title_day(grid.lines[: header.at], sheet.place, first),
    )


def _is_total(row: RawRow, at: int | None) -> bool:
    if at is None or at >= len(row.cells):
        return False
    return reads_as_total(text(row.cells[at]))


def _words(
    found: Columns, rows: Sequence[RawRow], header: Header
) -> tuple[dict[str, tuple[Guess, ...]], int, int, dict[str, int], frozenset[int]]:
    """Return the guesses on words by kind, and counts of rows.

    The counts are rows whose word is open, rows without one and rows by word; the rows at the end
    are those that tell of a failure, or may.
    """
    out: dict[str, tuple[Guess, ...]] = {"endings": (), "kinds": (), "causes": ()}
    hints = row_hints(rows, found.index, header.heads)
    name = "kind" if found.shape == "log" else "ending"
    at = found.index.get(name)
    by_word: Counter[str] = Counter()
    n_open = 0
    blank: list[int] = []
    failing: set[int] = set(hints)
    if at is not None and found.shape in ("lives", "log", "histories"):
        words, blank = words_of(rows, at, hints)
        head = header.heads[at]
        told = guess_endings(words, head) if name == "ending" else guess_kinds(words)
        out["endings" if name == "ending" else "kinds"] = told
        meant = {fold(g.what): g for g in told}
        for folded, w in words.items():
            g = meant.get(folded)
            if g is not None and g.stands:
                by_word[g.value] += len(w.rows)
            else:
                n_open += len(w.rows)
            if g is None or not g.stands or g.value in TROUBLED:
                failing |= set(w.rows)
    cause_at = found.index.get("cause")
    if cause_at is not None and found.shape in ("lives", "log"):
        causes, _ = words_of(rows, cause_at, {})
        out["causes"] = guess_causes(causes, frozenset(failing))
    ordered = dict(sorted(by_word.items(), key=lambda kv: (-kv[1], kv[0])))
    return out, n_open, len(blank), ordered, frozenset(failing)


def row_hints(
    rows: Sequence[RawRow], index: Mapping[str, int], heads: Sequence[str]
) -> dict[int, str]:
    """Return rows, by number, in which a text or a column of failures tells of one, and the text.

    The columns of endings, events and names are left out: their words are guessed themselves.
    """
    apart = {
        index[n]
        for n in ("engine", "ending", "kind", "source", "build", "modified_to", "meter", "serial",
                  "position", "component")
        if n in index
    }  # fmt: skip
    taken = set(index.values())
    naming = {i for i, h in enumerate(heads) if i not in taken and names_failure(h)}
    out: dict[int, str] = {}
    for r in rows:
        for i, c in enumerate(r.cells):
            if i in apart or c is None:
                continue
            if i in naming:
                if not is_blank(c) and fold(text(c)) not in PLAIN_NO:
                    out.setdefault(r.row, f"{heads[i]}: {text(c)}")
            elif type(c) is str and may_hint(c):
                hint = hint_of(c)
                if hint is not None and hint.grade == FAILURE:
                    out.setdefault(r.row, text(c))
    return out


def _blank_endings(n: int, of: int) -> tuple[Guess, ...]:
    if not n:
        return ()
    return (
        Guess(
            what="ending-missing",
            value="",
            sure=OPEN,
            reason=f"{n} of {of} rows have no word for their ending: still running, or not told?",
            alternatives=("accept", "set-aside"),
            n_rows=n,
            effect='these rows stop the study; "accept" counts them as running',
        ),
    )
