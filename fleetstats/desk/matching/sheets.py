"""One record file as a person matches it: its lines, its columns with samples, its words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from fleetstats.desk.matching.guesses import FileGuess
from fleetstats.desk.matching.named import NamedFile
from fleetstats.desk.standing import Standing
from fleetstats.records.audit.finding import FileAccount
from fleetstats.records.guess.guess import Guess
from fleetstats.records.guess.shapes import FIELDS_OF
from fleetstats.study.study import Study
from fleetstats.tables.cells import text
from fleetstats.tables.columns import match_columns
from fleetstats.tables.grid import place_of_row
from fleetstats.tables.table import RawRow, RawTable
from fleetstats.vocabulary.endings import ENDINGS, ENDINGS_BY_WORD
from fleetstats.vocabulary.events import EVENTS_BY_WORD, KINDS
from fleetstats.vocabulary.fields.field import Field
from fleetstats.vocabulary.fields.headers import meaning_of, plain_name
from fleetstats.vocabulary.fields.histories import OFFERED_FIELDS
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.findings.entry import SEVERITIES
from fleetstats.vocabulary.fold import fold

LINES_SHOWN = 12
"""Lines of a sheet that are shown from its top, and rows with findings that are shown below."""

ODD_SHOWN = 30
SAMPLES = 4
MOST_WORDS = 60
LONGEST_CELL = 60
LONGEST_FOUND = 110
MOST_COLUMNS = 60
"""Columns of a sheet that are shown beside each other; wider sheets are cut on the page alone."""

HEADS_OF: dict[str, tuple[Field, ...]] = FIELDS_OF | {"histories": OFFERED_FIELDS}
"""The columns of ours that a file of each shape may have."""

WORDS_OF = {"endings": "ending", "kinds": "kind", "causes": "cause"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnSeen:
    """One column of a file: its own head, samples, and the name of ours that it is read as."""

    number: int
    head: str
    samples: tuple[str, ...]
    ours: str
    mapped: bool
    guess: Guess | None = None

    @property
    def part(self) -> str:
        """Return whether the column is used, idle, or has no content at all."""
        if self.ours or self.guess is not None:
            return "used"
        return "idle" if self.samples else "empty"


@dataclass(frozen=True, slots=True, kw_only=True)
class WordSeen:
    """One word of a column: how often, on which lines first, and what it is taken to mean.

    `ours` is blank where nobody knows yet; `mapped` says whether the study file gives it.
    """

    word: str
    n: int
    rows: tuple[int, ...]
    ours: str
    mapped: bool
    guess: Guess | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WordTable:
    """The words of one column that decide: of endings, of kinds of event, of causes."""

    map: str
    column: str
    words: tuple[WordSeen, ...]
    choices: tuple[str, ...]
    n_more: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSeen:
    """One line of the sheet as supplied.

    `part` is ``"above"``, ``"names"`` or ``"row"``; `severity` and `found` say what the audit found
    in it, and `odd` the places of the cells that it names.
    """

    row: int
    cells: tuple[str, ...]
    part: str
    severity: str = ""
    found: tuple[str, ...] = ()
    odd: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSeen:
    """One record file.

    `account` is None until its rows can be read; `header_offer` is the line in which the names
    seem to stand where the study reads another, else 0.
    """

    number: int
    named: NamedFile
    account: FileAccount | None
    header_row: int
    header_offer: int
    width: int
    n_columns: int
    lines: tuple[LineSeen, ...]
    odd_lines: tuple[LineSeen, ...]
    n_lines: int
    columns: tuple[ColumnSeen, ...]
    fields: tuple[Field, ...]
    missing: tuple[str, ...]
    tables: tuple[WordTable, ...]
    shape: Guess | None
    unused: tuple[Guess, ...]


def see_sheet(guess: FileGuess, now: Standing) -> SheetSeen | None:
    """Return a record file as the page shows it; None where it cannot be read at all."""
    named, sheet = guess.named, guess.sheet
    place = (named.file, named.sheet)
    table, study = now.tables.get(place), now.study
    if table is None and guess.grid is None:
        return None
    header_row = table.header_row if table else sheet.header_row if sheet else 0
    lines = _lines_of(guess, table)
    at = place_of_row(lines, header_row)
    header = table.header if table else tuple(text(c) for c in lines[at].cells) if at >= 0 else ()
    body = table.rows if table else lines[at + 1 :] if at >= 0 else ()
    index = _index(guess, table, study)
    by_head = {g.value: g for g in (sheet.columns if sheet else ()) if g.value}
    fields = HEADS_OF.get(named.shape or (sheet.shape.value if sheet else ""), ())
    findings = _found(now, named, table)
    seen = [
        _line(line, header_row, header, findings.get(line.row, ())) for line in lines[:LINES_SHOWN]
    ]
    top = {line.row for line in seen}
    odd = [line for line in lines if line.row in findings and line.row not in top][:ODD_SHOWN]
    offer = guess.free.sheet.header_row if guess.free and guess.free.sheet.shape.stands else 0
    return SheetSeen(
        number=named.number,
        named=named,
        account=_account(now, named),
        header_row=header_row,
        header_offer=offer if offer != header_row and not named.header_row else 0,
        width=min(max((len(x.cells) for x in seen), default=0), MOST_COLUMNS),
        n_columns=len(header),
        lines=tuple(seen),
        odd_lines=tuple(_line(x, header_row, header, findings[x.row]) for x in odd),
        n_lines=len(body),
        columns=tuple(_columns(header, body, index, named, by_head)),
        fields=fields,
        missing=tuple(f.name for f in fields if f.required and f.name not in index),
        tables=tuple(_word_tables(guess, body, index, study)),
        shape=sheet.shape if sheet else None,
        unused=tuple(g for g in (sheet.unused if sheet else ()) if not g.stands),
    )  # fmt: skip


def _lines_of(guess: FileGuess, table: RawTable | None) -> tuple[RawRow, ...]:
    """Return the lines of a sheet as supplied, or those of its table where that is all there is."""
    if guess.grid is not None:
        return guess.grid.lines
    if table is None:
        return ()
    return (RawRow(row=table.header_row, cells=table.header), *table.rows)


def _index(guess: FileGuess, table: RawTable | None, study: Study | None) -> dict[str, int]:
    """Return our columns with their places: as the file is read, or as was guessed."""
    named = guess.named
    if table is not None and study is not None:
        file = study.of_number(named.number)
        if file.shape == "histories":
            from fleetstats.tables.history_columns import find_columns

            return dict(find_columns(table, file).match.index)
        fields = HEADS_OF.get(file.shape, ())
        columns = study.settings.groups.covariates
        return dict(match_columns(table, fields, file.columns, columns).index) if fields else {}
    if guess.sheet is None or guess.grid is None:
        return {}
    lines = guess.grid.lines
    header = place_of_row(lines, guess.sheet.header_row)
    at: dict[str, int] = {}
    for i, head in enumerate(lines[header].cells if header >= 0 else ()):
        at.setdefault(plain_name(text(head)), i)
    told = {g.what: g.value for g in guess.sheet.columns if g.stands} | named.columns
    return {ours: at[plain_name(h)] for ours, h in told.items() if plain_name(h) in at}


def _columns(
    header: tuple[str, ...], body: tuple[RawRow, ...], index: dict[str, int], named: NamedFile,
    by_head: dict[str, Guess],
) -> Iterator[ColumnSeen]:  # fmt: skip
    at = {i: ours for ours, i in index.items()}
    for i, head in enumerate(header[:MOST_COLUMNS]):
        ours = at.get(i, "")
        guess = by_head.pop(head, None)  # of two columns of one name the first is meant
        yield ColumnSeen(
            number=i, head=head, samples=_samples(body, i), ours=ours,
            mapped=ours in named.columns,
            guess=guess if guess is not None and ours in ("", guess.what) else None,
        )  # fmt: skip


def _word_tables(
    guess: FileGuess, body: tuple[RawRow, ...], index: dict[str, int], study: Study | None
) -> Iterator[WordTable]:
    shape = guess.named.shape or (guess.sheet.shape.value if guess.sheet else "")
    known = {"endings": tuple(ENDINGS), "kinds": tuple(KINDS), "causes": _causes(study)}
    for name in {"lives": ("endings", "causes"), "log": ("kinds", "causes")}.get(shape, ()):
        if WORDS_OF[name] in index:
            told = _words(name, guess, body, index[WORDS_OF[name]], known[name])
            if told.words:
                yield told


def _causes(study: Study | None) -> tuple[str, ...]:
    if study is None:
        return ()
    q = study.settings.question
    return tuple(dict.fromkeys((*q.causes, *q.censoring_causes, *q.outside_causes)))


def _words(
    name: str, guess: FileGuess, body: tuple[RawRow, ...], at: int, choices: tuple[str, ...]
) -> WordTable:
    given = {fold(k): v for k, v in guess.named.map(name).items()}
    told = {fold(g.what): g for g in (getattr(guess.sheet, name) if guess.sheet else ())}
    counts: Counter[str] = Counter()
    spelt: dict[str, str] = {}
    rows: dict[str, list[int]] = {}
    for cell, r in ((r.cells[at], r.row) for r in body if at < len(r.cells)):
        word = text(cell)
        if not word:
            continue
        key = fold(word)
        counts[key] += 1
        spelt.setdefault(key, word)
        first = rows.setdefault(key, [])
        if len(first) < SAMPLES:
            first.append(r)
    seen = [
        WordSeen(
            word=spelt[k],
            n=n,
            rows=tuple(rows[k]),
            ours=given.get(k) or _by_itself(name, spelt[k]),
            mapped=k in given,
            guess=told.get(k),
        )
        for k, n in counts.most_common()
    ]
    seen.sort(key=lambda w: bool(w.ours) or name == "causes")  # those that nobody knows come first
    return WordTable(
        map=name, column=WORDS_OF[name], words=tuple(seen[:MOST_WORDS]), choices=choices,
        n_more=max(len(seen) - MOST_WORDS, 0),
    )  # fmt: skip


def _by_itself(name: str, word: str) -> str:
    """Return what a word means without a map; blank where the vocabulary does not hold it."""
    if name == "endings":
        told = meaning_of(word, ENDINGS_BY_WORD)
        return "" if told is None else told[0]
    return meaning_of(word, EVENTS_BY_WORD) or "" if name == "kinds" else ""


def _account(now: Standing, named: NamedFile) -> FileAccount | None:
    """Return what became of a file's rows."""
    if now.audit is None or now.study is None:
        return None
    mine = [a for a in now.audit.accounts if a.file == named.file and a.sheet == named.sheet]
    # a study may name one sheet twice; the accounts stand in the order of its files
    same = [f for f in now.study.files if (f.file, f.sheet) == (named.file, named.sheet)]
    nth = same.index(now.study.of_number(named.number)) if same else 0
    return mine[min(nth, len(mine) - 1)] if mine else None


def _found(
    now: Standing, named: NamedFile, table: RawTable | None
) -> dict[int, tuple[Finding, ...]]:
    """Return the findings of a file by row, the worst of a row first."""
    out: dict[int, list[Finding]] = {}
    sheets = {"", named.sheet, table.sheet if table else ""}
    for f in now.audit.findings if now.audit else ():
        if f.file == named.file and f.sheet in sheets and f.row is not None:
            out.setdefault(f.row, []).append(f)
    return {
        row: tuple(sorted(found, key=lambda f: SEVERITIES.index(f.severity)))
        for row, found in out.items()
    }


def _line(
    line: RawRow, header_row: int, header: tuple[str, ...], found: tuple[Finding, ...]
) -> LineSeen:
    part = "names" if line.row == header_row else "above" if line.row < header_row else "row"
    heads = {plain_name(h): i for i, h in reversed(list(enumerate(header)))}
    odd = {heads[plain_name(f.column)] for f in found if plain_name(f.column) in heads}
    odd |= {i for i, c in enumerate(line.cells) for f in found if f.value and text(c) == f.value}
    return LineSeen(
        row=line.row,
        cells=tuple(_shown(c) for c in line.cells[:MOST_COLUMNS]),
        part=part,
        severity=found[0].severity if found else "",
        found=tuple(dict.fromkeys(_shown(f.message, LONGEST_FOUND) for f in found)),
        odd=frozenset(odd) if part == "row" else frozenset(),
    )


def _samples(body: tuple[RawRow, ...], at: int) -> tuple[str, ...]:
    """Return the first different contents of a column."""
    seen: dict[str, None] = {}
    for r in body:
        if at < len(r.cells) and (shown := _shown(r.cells[at])):
            seen.setdefault(shown)
        if len(seen) == SAMPLES:
            break
    return tuple(seen)


def _shown(cell: Any, most: int = LONGEST_CELL) -> str:
    said = text(cell)
    return said if len(said) <= most else said[: most - 1] + "…"
