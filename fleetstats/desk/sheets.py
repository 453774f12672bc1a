"""One record file as a person matches it: its lines, its columns with samples, its words."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile
from fleetstats.tables.cells import text
from fleetstats.tables.columns import match_columns
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.endings import ENDINGS, ENDINGS_BY_WORD
from fleetstats.vocabulary.events import EVENTS_BY_WORD, KINDS
from fleetstats.vocabulary.fields.field import Field
from fleetstats.vocabulary.fields.headers import meaning_of
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.fold import fold

LINES_SHOWN = 25
SAMPLES = 4
MOST_WORDS = 60
LONGEST_CELL = 60
FIELDS_OF = {"lives": LIFE_FIELDS, "log": LOG_FIELDS}


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnSeen:
    """One column of a file: its own head, samples, and the name of ours that it is read as."""

    number: int
    head: str
    samples: tuple[str, ...]
    ours: str
    mapped: bool


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


@dataclass(frozen=True, slots=True, kw_only=True)
class WordTable:
    """The words of one column that decide: of endings, of kinds of event, of causes."""

    map: str
    column: str
    words: tuple[WordSeen, ...]
    choices: tuple[str, ...]
    n_more: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSeen:
    """One record file."""

    number: int
    file: RecordFile
    header: tuple[str, ...]
    lines: tuple[tuple[int, tuple[str, ...]], ...]
    n_lines: int
    columns: tuple[ColumnSeen, ...]
    fields: tuple[Field, ...]
    missing: tuple[str, ...]
    tables: tuple[WordTable, ...]


def see_sheet(number: int, file: RecordFile, table: RawTable, settings: Settings) -> SheetSeen:
    """Return a record file as the page shows it; `number` counts the study's files from 1."""
    fields = FIELDS_OF.get(file.shape, ())
    match = (
        match_columns(table, fields, file.columns, settings.groups.covariates) if fields else None
    )
    index = {} if match is None else match.index
    at = {i: ours for ours, i in index.items()}
    columns = tuple(
        ColumnSeen(
            number=i,
            head=head,
            samples=_samples(table, i),
            ours=at.get(i, ""),
            mapped=at.get(i, "") in file.columns,
        )
        for i, head in enumerate(table.header)
    )
    missing = tuple(f.name for f in fields if f.required and f.name not in index)
    return SheetSeen(
        number=number,
        file=file,
        header=table.header,
        lines=tuple((r.row, tuple(_shown(c) for c in r.cells)) for r in table.rows[:LINES_SHOWN]),
        n_lines=table.n_read,
        columns=columns,
        fields=fields,
        missing=missing,
        tables=tuple(_word_tables(file, table, index, settings)),
    )


def _word_tables(
    file: RecordFile, table: RawTable, index: dict[str, int], settings: Settings
) -> list[WordTable]:
    out = []
    if file.shape == "lives" and "ending" in index:
        out.append(_words("endings", "ending", file, table, index, tuple(ENDINGS)))
    if file.shape == "log" and "kind" in index:
        out.append(_words("kinds", "kind", file, table, index, tuple(KINDS)))
    if "cause" in index:
        q = settings.question
        known = tuple(dict.fromkeys((*q.causes, *q.censoring_causes, *q.outside_causes)))
        out.append(_words("causes", "cause", file, table, index, known))
    return [t for t in out if t.words]


def _words(
    name: str, column: str, file: RecordFile, table: RawTable, index: dict[str, int],
    choices: tuple[str, ...],
) -> WordTable:  # fmt: skip
    at, given = index[column], {fold(k): v for k, v in getattr(file, name).items()}
    counts: Counter[str] = Counter()
    spelt: dict[str, str] = {}
    rows: dict[str, list[int]] = {}
    for r in table.rows:
        word = text(r.cells[at])
        if not word:
            continue
        key = fold(word)
        counts[key] += 1
        spelt.setdefault(key, word)
        rows.setdefault(key, []).append(r.row)
    seen = [
        WordSeen(
            word=spelt[k],
            n=n,
            rows=tuple(rows[k][:SAMPLES]),
            ours=given.get(k) or _by_itself(name, spelt[k]),
            mapped=k in given,
        )
        for k, n in counts.most_common()
    ]
    seen.sort(key=lambda w: bool(w.ours) or name == "causes")  # those that nobody knows come first
    return WordTable(
        map=name, column=column, words=tuple(seen[:MOST_WORDS]), choices=choices,
        n_more=max(len(seen) - MOST_WORDS, 0),
    )  # fmt: skip


def _by_itself(name: str, word: str) -> str:
    """Return what a word means without a map; blank where the vocabulary does not hold it."""
    if name == "endings":
        told = meaning_of(word, ENDINGS_BY_WORD)
        return "" if told is None else told[0]
    return meaning_of(word, EVENTS_BY_WORD) or "" if name == "kinds" else ""


def _samples(table: RawTable, at: int) -> tuple[str, ...]:
    """Return the first different contents of a column."""
    seen: dict[str, None] = {}
    for r in table.rows:
        if shown := _shown(r.cells[at]):
            seen.setdefault(shown)
        if len(seen) == SAMPLES:
            break
    return tuple(seen)


def _shown(cell: Any) -> str:
    said = text(cell)
    return said if len(said) <= LONGEST_CELL else said[: LONGEST_CELL - 1] + "…"
