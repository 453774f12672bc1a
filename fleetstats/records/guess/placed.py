"""Where this year's sheets stand in an earlier study's file, and what of them is new to it.

A sheet takes the place of the earlier file, or of one of those that a pattern means. A pattern
stays where it means this year's files and no other and they are read alike; otherwise each file is
named, in a copy of the pattern's table.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from fleetstats.records.guess.guess import LIKELY, SURE, Given, Guess, GuessedSheet, GuessedStudy
from fleetstats.records.guess.same_sheet import place_under
from fleetstats.records.guess.sheet import ReadSheet
from fleetstats.records.guess.study import read_grid
from fleetstats.records.guess.write import OPEN_MARK, OPEN_SIGN, remark_of
from fleetstats.study.edit import copy_file, set_key, unset_key
from fleetstats.study.scaffold import toml_text
from fleetstats.study.study import RecordFile
from fleetstats.tables.grid import SheetGrid, open_grids
from fleetstats.tables.table import TableError
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.wording import listed

WORDS: Final = ("endings", "kinds", "causes")
"""Maps of words; those of columns are the earlier study's as long as the heads are there."""

NAMED: Final = 5
"""Files that a sentence names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedSheet:
    """A sheet that is read as an earlier file was: its ``[[records]]`` now, and what is new."""

    number: int
    was: RecordFile
    by_name: bool
    sheet: GuessedSheet
    fresh: GuessedSheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Sheets with their places, the tables to copy, what is said of each table, and new names."""

    sheets: tuple[PlacedSheet, ...] = ()
    copied: tuple[int, ...] = ()
    said: Mapping[int, str]
    moved: Mapping[str, str]

    def holds(self, sheet: GuessedSheet) -> bool:
        """Return whether a sheet has a place."""
        return any(p.sheet.place == sheet.place for p in self.sheets)


def open_earlier(table: Sequence[RecordFile]) -> Iterator[tuple[SheetGrid, ReadSheet]]:
    """Yield the sheets that a table ``[[records]]`` was read from; none that is not at hand."""
    for f in table:
        try:
            grids = open_grids(f.path, f.file)
        except (TableError, OSError):
            continue
        given = Given(header_row=f.header_row, shape=f.shape, columns=dict(f.columns))
        for grid in grids:
            told = read_grid(grid, given) if f.sheet in ("", grid.sheet) else None
            if isinstance(told, ReadSheet):
                yield grid, told


def place_sheets(
    tables: Sequence[Sequence[RecordFile]], found: Mapping[int, Sequence[GuessedSheet]],
    guessed: GuessedStudy,
) -> Places:  # fmt: skip
    """Give each sheet that stands in for an earlier file its place in the new study file.

    Parameters
    ----------
    tables : sequence of sequence of RecordFile
        The earlier study's files by table.
    found : mapping
        Tables, counted from 1, with the sheets of this year that stand in for them.
    guessed : GuessedStudy
        All sheets of this year.
    """
    rows: list[PlacedSheet] = []
    copied: list[int] = []
    said: dict[int, str] = {}
    moved: dict[str, str] = {}
    for i, sheets in found.items():
        was, met = tables[i - 1][0], _words_met(tables[i - 1])
        fresh = [_new_of(was, s, met) for s in sheets]
        under, why = _under_pattern(was, sheets, fresh, guessed) if was.pattern else ({}, "")
        moved |= under
        numbers = [i] * len(sheets)
        if not under:
            numbers = [i, *(len(tables) + len(copied) + k for k in range(1, len(sheets)))]
            copied += [i] * (len(sheets) - 1)
        for n, s, its in zip(numbers, sheets, fresh, strict=True):
            name = under.get(s.file, s.file)
            mine, new = replace(s, file=name), replace(its, file=name)
            rows.append(PlacedSheet(number=n, was=was, by_name=not under, sheet=mine, fresh=new))
        said[i] = _say(was, [p.sheet.place for p in rows[-len(sheets) :]], why)
    return Places(sheets=tuple(rows), copied=tuple(copied), said=said, moved=moved)


def renamed(guessed: GuessedStudy, moved: Mapping[str, str]) -> GuessedStudy:
    """Return a guessed study whose files lie where their pattern looks for them."""
    sheets = tuple(replace(s, file=moved.get(s.file, s.file)) for s in guessed.sheets)
    paths = {moved.get(n, n): p for n, p in guessed.paths.items()}
    return replace(guessed, sheets=sheets, paths=paths)


def _under_pattern(
    was: RecordFile, sheets: Sequence[GuessedSheet], fresh: Sequence[GuessedSheet],
    guessed: GuessedStudy,
) -> tuple[dict[str, str], str]:  # fmt: skip
    """Return where the files lie if their pattern stays; else none, and why it does not."""
    names = [s.file for s in sheets]
    shared = len({*names}) < len(names)
    beside = [n for n in guessed.paths if n not in names]
    beside += [s.file for s in guessed.sheets if s.file in names and s not in sheets]
    under = {} if shared else place_under(was.pattern, names)
    if not under:
        return {}, f"which does not mean {'it' if len(names) == 1 else 'them all'}"
    if not place_under(was.pattern, names, beside):
        return {}, "which would mean other files too"
    first, *more = [_read_by(was, s, new) for s, new in zip(sheets, fresh, strict=True)]
    if any(first[:-1] != x[:-1] or _at_odds(first[-1], x[-1]) for x in more):
        return {}, "since they are not read alike"
    return under, ""


def _read_by(
    was: RecordFile, sheet: GuessedSheet, fresh: GuessedSheet
) -> tuple[str, int, dict[str, str], dict[tuple[str, str], str]]:
    """Return what a table must say of a sheet: its sheet, line of heads, columns and new words."""
    columns = {g.what: g.value for g in fresh.columns}
    words = {(t, fold(g.what)): g.value for t in WORDS for g in getattr(fresh, t)}
    return sheet.sheet, _header_of(was, sheet), columns, words


def _at_odds(one: Mapping[tuple[str, str], str], other: Mapping[tuple[str, str], str]) -> bool:
    return any(one[w] != other[w] for w in {*one} & {*other})


def _header_of(was: RecordFile, sheet: GuessedSheet) -> int:
    return sheet.header_row if sheet.header_stated or was.header_row else 0


def _say(was: RecordFile, places: Sequence[str], why: str) -> str:
    n = len(places)
    some = [*places[:NAMED], f"{n - NAMED} more"] if n > NAMED else [*places]
    out = f"{listed(some)} {'is' if n == 1 else 'are'} read so now"
    if was.pattern:
        how = f"named in place of {was.pattern}, {why}" if why else f"as {was.pattern} means"
        return f"{out}, {how}{'' if why else ' it' if n == 1 else ' them'}"
    return out


def _new_of(file: RecordFile, sheet: GuessedSheet, met: Mapping[str, set[str]]) -> GuessedSheet:
    """Return a sheet with only those guesses that the earlier study does not settle.

    A word that stood in the earlier file was met: what was made of it then is made of it now.
    """

    def unmet(name: str) -> tuple[Guess, ...]:
        told = met[name] | {fold(w) for w in getattr(file, name)}
        return tuple(g for g in getattr(sheet, name) if not g.known and fold(g.what) not in told)

    heads = {g.what: g for g in sheet.columns}
    gone = tuple(
        g for ours, theirs in file.columns.items()
        if (g := heads.get(ours)) is not None and g.value.strip() != theirs.strip()
    )  # fmt: skip
    said = Guess(what="shape", value=file.shape, sure=SURE, reason="as the earlier study says")
    return replace(
        sheet, shape=said, columns=gone, settings=(), treat=(), unused=(), renews=(),
        endings=unmet("endings"), kinds=unmet("kinds"), causes=unmet("causes"),
    )  # fmt: skip


def _words_met(table: Sequence[RecordFile]) -> dict[str, set[str]]:
    """Return the words of the earlier files of a table, by map."""
    out: dict[str, set[str]] = {name: set() for name in WORDS}
    for _, told in open_earlier(table):
        for name, words in out.items():
            words |= {fold(g.what) for g in getattr(told.sheet, name)}
    return out


def with_files(text: str, places: Places) -> str:
    """Return the carried text with this year's files in place of the earlier, and what is new."""
    for number in places.copied:  # before a line of them is changed
        text = copy_file(text, number)
    done: set[tuple[int, str, str]] = set()
    for p in places.sheets:
        i, s = p.number, p.sheet
        if p.by_name:
            text = set_key(text, ("records", i, "file"), s.file)
        if s.sheet != p.was.sheet:
            path = ("records", i, "sheet")
            text = set_key(text, path, s.sheet) if s.sheet else unset_key(text, path)
        row = _header_of(p.was, s)
        if row != p.was.header_row:
            why = f"{LIKELY}: {s.header_reason}."
            text = set_key(text, ("records", i, "header_row"), row, comment=why)
        for table in ("columns", *WORDS):
            for g in getattr(p.fresh, table):
                if (i, table, fold(g.what)) not in done:
                    text = with_guess(text, i, table, g)
                    done.add((i, table, fold(g.what)))
    return text


def with_guess(text: str, number: int, table: str, g: Guess) -> str:
    """Return a study file's text with one guess on a record file: stated, or left open.

    Parameters
    ----------
    text : str
        The study file.
    number : int
        The record file, counted from 1.
    table : str
        Its table of columns or words.
    g : Guess
        The guess; an open one stands as a remark, once.
    """
    path = ("records", number, table, g.what)
    if g.stands:
        return set_key(text, path, g.value, comment=remark_of(g).removeprefix("# "))
    key = re.escape(toml_text(g.what))
    below = f"# [records.{table}] of file {number}:\n"
    shown = rf'^# {key} = "…"    {OPEN_MARK}'
    if re.search(shown, _lines_on(text, number), re.MULTILINE | re.IGNORECASE) or re.search(
        re.escape(below) + shown[1:], text, re.IGNORECASE
    ):
        return text
    # the place of a value is the place of the remark that asks for it
    bare = unset_key(text, path)
    lines = set_key(bare, path, OPEN_SIGN).split("\n")
    at = next((k for k, x in enumerate(lines) if re.match(rf'"?{key[1:-1]}"? = "…"', x)
               and x not in bare.split("\n")), -1)  # fmt: skip
    asked = f'# {toml_text(g.what)} = "…"    {remark_of(g)}'
    if at < 0:  # the table is written in braces, where no remark can stand
        return f"{bare.rstrip()}\n\n{below}{asked}\n"
    lines[at] = asked
    return "\n".join(lines)


def _lines_on(text: str, number: int) -> str:
    """Return what a study file's text says from one ``[[records]]`` to the next, remarks too."""
    parts = re.split(r"^\s*\[\[\s*records\s*\]\]", text, flags=re.MULTILINE)
    return parts[number] if number < len(parts) else ""
