"""Files of this year read as last year's were: an earlier study carried, what is new asked.

A sheet that stands in for one of the earlier study's is read with its columns, maps and ways; words
that its maps do not know are guessed as those of raw files are. Other sheets are guessed whole.
Several sheets may stand in for a pattern of the earlier study.
"""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from fleetstats.core.errors import SettingError
from fleetstats.core.files import write_whole
from fleetstats.core.value import Value, value
from fleetstats.records.guess.guess import Given, Guess, GuessedSheet, GuessedStudy, PassedSheet
from fleetstats.records.guess.placed import (
    Places,
    open_earlier,
    place_sheets,
    renamed,
    with_files,
    with_guess,
)
from fleetstats.records.guess.repairs import ask_repairs
from fleetstats.records.guess.same_sheet import (
    Free,
    HeadsHeld,
    has_heads,
    heads_of,
    row_of_heads,
    same_sheets,
)
from fleetstats.records.guess.sheet import ReadSheet
from fleetstats.records.guess.study import gather, name_files, read_grid, read_grids
from fleetstats.records.guess.write import FLAGS, OPEN_SIGN, STOPPING, add_sheets, remark_of
from fleetstats.study.carry import (
    CarriedStudy,
    EarlierStudy,
    lay_out_carried,
    read_earlier,
    tables_of,
    tell_carried,
)
from fleetstats.study.edit import set_key
from fleetstats.study.study import MAX_FILES, STUDY_FILE, RecordFile
from fleetstats.tables.grid import SheetGrid, open_grids
from fleetstats.tables.table import TableError


@value
class BegunAgain(Value):
    """A study begun from an earlier one and this year's files.

    Parameters
    ----------
    carried : CarriedStudy
        What was taken over, and what is left to the user.
    guessed : GuessedStudy
        This year's sheets; of those that stand in for an earlier one only what is new is guessed.
    """

    carried: CarriedStudy
    guessed: GuessedStudy

    @property
    def lines(self) -> tuple[str, ...]:
        """Return what was carried, then what was guessed, one thing to a line."""
        return (*self.carried.lines, *self.guessed.lines)


def begin_again(
    folder: str | Path, old: str | Path, files: Sequence[str | Path], *,
    today: dt.date | None = None,
) -> BegunAgain:  # fmt: skip
    """Lay out a new study from an earlier one and this year's raw files, which are copied.

    Parameters
    ----------
    folder : str or Path
        Made where it is not there. Nothing in it is overwritten.
    old : str or Path
        The earlier study's folder, or its `study.toml`.
    files : sequence of str or Path
        CSV, XLSX or Parquet.
    today : date, optional
        Dates after it are taken for slips of the pen; the day of the run where not given.

    Raises
    ------
    SettingError
        As `begin_from` and `begin_from_files`. Nothing is then left behind.
    """
    earlier = read_earlier(old)
    tables = tables_of(earlier.study)
    named = name_files([Path(f) for f in files])
    grids = {n: _open(n, p) for n, p in named.items()}
    found, guessed = _read(tables, grids, named, today)
    places = place_sheets(tables, found, guessed)
    guessed = renamed(guessed, places.moved)
    others = [s for s in guessed.sheets if not places.holds(s)]
    n_tables = len(tables) + len(places.copied)
    if n_tables + len(others) > MAX_FILES:
        raise SettingError(f"The study would hold more than {MAX_FILES} files and sheets.")
    day = _day(guessed)
    told = tell_carried(
        earlier, places.said, day="" if day is None else day.value,
        more=tuple(_unlike(earlier, places, guessed.settings)),
    )  # fmt: skip
    text = _with_settings(with_files(earlier.text, places), earlier, guessed.settings)
    if others:
        text = add_sheets(text, replace(guessed, sheets=tuple(others)))
    lay_out_carried(folder, earlier, told, text, guessed.paths)
    fresh = [p.fresh for p in places.sheets]
    asked = ask_repairs(replace(guessed, sheets=(*fresh, *others)), Path(folder))
    path = Path(folder) / STUDY_FILE
    before = text = path.read_text(encoding="utf-8")
    numbers = [*(p.number for p in places.sheets), *range(n_tables + 1, MAX_FILES + 1)]
    for i, s in zip(numbers, asked.sheets, strict=False):
        for g in s.renews:
            text = with_guess(text, i, "renews", g)
    if text != before:
        write_whole(path, text, replace=True)
    return BegunAgain(carried=told, guessed=replace(asked, settings=_told_of(guessed, day)))


def _told_of(guessed: GuessedStudy, day: Guess | None) -> tuple[Guess, ...]:
    """Return the shared settings that were guessed anew; the rest was carried."""
    stopping = [g for g in guessed.settings if g.what in STOPPING]
    return (*([day] if day is not None else []), *stopping)


def _open(name: str, path: Path) -> tuple[SheetGrid, ...]:
    try:
        return tuple(open_grids(path, name))
    except TableError as e:
        raise SettingError(f"{name}: {e.finding.message}", e.finding.advice) from None


def _read(
    tables: Sequence[Sequence[RecordFile]], grids: Mapping[str, tuple[SheetGrid, ...]],
    named: Mapping[str, Path], today: dt.date | None,
) -> tuple[dict[int, list[GuessedSheet]], GuessedStudy]:  # fmt: skip
    """Return the sheets that stand in for each earlier table, counted from 1, and all sheets."""
    every = [g for file in grids.values() for g in file]
    free = {(g.file, g.sheet): read_grid(g) for g in every}

    @functools.cache
    def held(number: int) -> frozenset[frozenset[str]]:
        return frozenset(
            heads_of(x.cells) for g, told in open_earlier(tables[number - 1])
            for x in g.lines if x.row == told.sheet.header_row
        )  # fmt: skip

    pairs = same_sheets(tables, every, free, held)
    given = {(g.file, g.sheet): i for i, mine in pairs.items() for g in mine}
    _refuse_drawn(tables, [g for g in every if (g.file, g.sheet) not in given], held)
    read: list[ReadSheet] = []
    passed: list[PassedSheet] = []
    for file in grids.values():
        mine, none = read_grids(file, lambda g: _under(g, tables, free, given))
        read, passed = [*read, *mine], [*passed, *none]
    guessed = gather(read, passed, named, today=today)
    found: dict[int, list[GuessedSheet]] = {}
    for s in guessed.sheets:
        if (s.file, s.sheet) in given:
            found.setdefault(given[s.file, s.sheet], []).append(s)
    return dict(sorted(found.items())), guessed


def _refuse_drawn(
    tables: Sequence[Sequence[RecordFile]], others: Sequence[SheetGrid], held: HeadsHeld
) -> None:
    """Stop where a file has the heads of records that are drawn: they would count twice."""
    for i, table in enumerate(tables, start=1):
        if not table[0].origin:
            continue
        for g in others:
            if has_heads(g, held(i)) or row_of_heads(table[0], g):
                raise SettingError(
                    f"{g.file} has the column names of {table[0].asked}, which the earlier study "
                    "draws from elsewhere: its engines would count twice.",
                    "Begin without this file and draw this year's rows with 'fleetstats study "
                    "FOLDER --draw'; or, if the file stands in for them, name it in the earlier "
                    "study in their place first.",
                )


def _under(
    grid: SheetGrid, tables: Sequence[Sequence[RecordFile]], free: Free,
    given: Mapping[tuple[str, str], int],
) -> ReadSheet | PassedSheet:  # fmt: skip
    """Guess a sheet under what the earlier study says of the one that it stands in for."""
    place = (grid.file, grid.sheet)
    if place not in given:
        return free[place]
    f = tables[given[place] - 1][0]
    told = free[place]
    row = row_of_heads(f, grid)
    row = row or (told.sheet.header_row if isinstance(told, ReadSheet) else f.header_row)
    out = read_grid(grid, Given(header_row=row, shape=f.shape, columns=dict(f.columns)))
    if isinstance(out, PassedSheet):
        return out
    return replace(out, sheet=out.sheet.with_words(f.endings | f.kinds))


def _day(guessed: GuessedStudy) -> Guess | None:
    told = (g for g in guessed.settings if g.what == "study.analysis_date" and g.stands)
    return next(told, None)


def _with_settings(text: str, earlier: EarlierStudy, settings: Iterable[Guess]) -> str:
    """Return the text with the new day of analysis, and what must not be left to a default."""
    for g in settings:
        table, _, key = g.what.partition(".")
        why = remark_of(g).removeprefix("# ")
        if g.what == "study.analysis_date" and g.stands:
            text = set_key(text, (table, key), dt.date.fromisoformat(g.value), comment=why)
        elif g.what in STOPPING and not g.stands and g.what not in earlier.study.chosen:
            text = set_key(text, (table, key), OPEN_SIGN, comment=why)
    return text


def _unlike(earlier: EarlierStudy, places: Places, settings: Iterable[Guess]) -> Iterator[str]:
    """Yield what this year's files seem to write otherwise than the earlier study says."""
    for g in settings:
        table, _, key = g.what.partition(".")
        if not g.stands or g.what == "study.analysis_date" or g.what in STOPPING:
            continue
        held = getattr(getattr(earlier.study.settings, table), key, None)
        if g.value != _shown(held):
            yield f"{key} under [{table}] is carried as {_shown(held)}; {g.reason} ({g.value})."
    for p in places.sheets:
        s, f = p.sheet, p.was
        for g in s.settings:
            if g.stands and g.what != "source" and getattr(f, g.what) not in ("", "auto", g.value):
                yield (
                    f"{g.what} of {s.place} is carried as {getattr(f, g.what)}; {g.reason} "
                    f"({g.value})."
                )


def _shown(held: Any) -> str:
    return next((k for k, v in FLAGS.items() if v is held), str(held))
