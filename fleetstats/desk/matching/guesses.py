"""What each file of the study most likely means: the guesses of `begin`, kept while a file stays.

The rules are those of `records.guess`, asked again of the files that lie in the folder. What the
study file says otherwise is given to them, so that the rest is guessed under what is known.
"""

from __future__ import annotations

import datetime as dt
import threading
from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from fleetstats.core.errors import SettingError
from fleetstats.core.pause import collection_paused
from fleetstats.desk.files import inside
from fleetstats.desk.in_time import its_turn
from fleetstats.desk.matching.named import NamedFile
from fleetstats.desk.words import words
from fleetstats.records.guess.guess import (
    Given,
    Guess,
    GuessedSheet,
    GuessedStudy,
    PassedSheet,
)
from fleetstats.records.guess.shapes import FIELDS_OF
from fleetstats.records.guess.sheet import NOTHING_GIVEN, ReadSheet
from fleetstats.records.guess.study import gather, read_grid, read_grids, share_settings
from fleetstats.tables.grid import SheetGrid, open_grids
from fleetstats.tables.table import TableError

MOST_FILES, MOST_SHEETS = 64, 256
"""Files and sheets kept as they were read and guessed; more are read again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileGuess:
    """One record file of the study with what was guessed of it.

    Parameters
    ----------
    named : NamedFile
        What the study file says of it.
    grid : SheetGrid or None
        Its lines as supplied; None where it cannot be read.
    free : ReadSheet or None
        The guess of the sheet alone, whatever the study file says.
    sheet : GuessedSheet or None
        The guess under what the study file says; None where it holds no records, or has a shape
        that is not guessed.
    """

    named: NamedFile
    grid: SheetGrid | None = None
    free: ReadSheet | None = None
    sheet: GuessedSheet | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderGuess:
    """All record files with their guesses, the settings they share, and sheets that are not read.

    `more` holds (file, sheet, why) of the sheets of workbooks that the study file does not name.
    """

    files: tuple[FileGuess, ...]
    settings: tuple[Guess, ...]
    more: tuple[tuple[str, str, str], ...]


@dataclass(slots=True)
class Guesses:
    """Guesses of the files of one folder, remembered by file."""

    folder: Path
    grids: OrderedDict[tuple[Any, ...], tuple[SheetGrid, ...] | str] = field(
        default_factory=OrderedDict
    )
    sheets: OrderedDict[tuple[Any, ...], tuple[SheetGrid, ReadSheet | PassedSheet]] = field(
        default_factory=OrderedDict
    )
    lock: threading.RLock = field(default_factory=threading.RLock)

    def begin(self, names: Iterable[str]) -> GuessedStudy:
        """Guess files that lie in the folder and are no part of the study yet.

        Raises
        ------
        SettingError
            If a file cannot be read, or none of them holds records.
        """
        with its_turn(self.lock):
            read: list[ReadSheet] = []
            passed: list[PassedSheet] = []
            paths: dict[str, Path] = {}
            for name in names:
                grids = self.open(name)
                if isinstance(grids, str):
                    raise SettingError(grids)
                mine, none = read_grids(grids, self._guess)
                read, passed = [*read, *mine], [*passed, *none]
                paths[name] = self.folder / name
            return gather(read, passed, paths)

    def look(self, named: Iterable[NamedFile], meter: str) -> FolderGuess:
        """Return the guesses on the study's files; `meter` is the study's where it is stated."""
        with its_turn(self.lock):
            files = [self._of(n) for n in named]
            read = [f.free for f in files if f.free is not None]
            settings, sheets = (
                share_settings(read, dt.date.today(), standard=meter) if read else ([], ())
            )
            by_place = {(s.file, s.sheet): s for s in sheets}
            return FolderGuess(
                files=tuple(_with_meter(f, by_place) for f in files),
                settings=tuple(settings),
                more=tuple(self._more(files)),
            )

    def open(self, name: str) -> tuple[SheetGrid, ...] | str:
        """Return the sheets of a file of the folder as they stand, or why it cannot be read."""
        path = inside(self.folder, name)
        if path is None:
            return name
        told = path.stat()
        key = (name, told.st_mtime_ns, told.st_size)
        if key not in self.grids:
            try:
                with collection_paused():
                    self.grids[key] = open_grids(path, name)
            except TableError as e:
                self.grids[key] = str(e.finding)
            _forget(self.grids, MOST_FILES)
        self.grids.move_to_end(key)
        return self.grids[key]

    def _of(self, named: NamedFile) -> FileGuess:
        grids = self.open(named.file)
        if isinstance(grids, str):
            return FileGuess(named=named)
        grid = next((g for g in grids if named.sheet in ("", g.sheet)), None)
        if grid is None:
            return FileGuess(named=named)
        told = self._guess(grid)
        free = told if isinstance(told, ReadSheet) else None
        given = _given(named, grid, free)
        sheet = told if given == NOTHING_GIVEN else self._guess(grid, given)
        if isinstance(sheet, PassedSheet) or (named.shape and named.shape not in FIELDS_OF):
            return FileGuess(named=named, grid=grid, free=free)
        stated = named.endings | named.kinds
        return FileGuess(named=named, grid=grid, free=free, sheet=sheet.sheet.with_words(stated))

    def _guess(self, grid: SheetGrid, given: Given = NOTHING_GIVEN) -> ReadSheet | PassedSheet:
        key = (id(grid), given.header_row, given.shape, *sorted(given.columns.items()))
        if key not in self.sheets:
            # the grid is kept beside, so that its identity stays its own
            self.sheets[key] = grid, read_grid(grid, given)
            _forget(self.sheets, MOST_SHEETS)
        self.sheets.move_to_end(key)
        return self.sheets[key][1]

    def _more(self, files: Iterable[FileGuess]) -> Iterable[tuple[str, str, str]]:
        """Yield the sheets of the study's workbooks that it does not name, with why."""
        named: dict[str, set[str]] = {}
        for f in files:
            if f.grid is not None and f.grid.sheet:
                named.setdefault(f.named.file, set()).add(f.grid.sheet)
        for file, sheets in named.items():
            grids = self.open(file)
            if isinstance(grids, str):
                continue
            for grid in grids:
                if grid.sheet not in sheets:
                    told = self._guess(grid)
                    why = told.reason if isinstance(told, PassedSheet) else ""
                    yield file, grid.sheet, why or words("records", "left_out")


def _given(named: NamedFile, grid: SheetGrid, free: ReadSheet | None) -> Given:
    """Return what the study file says otherwise than a guess."""
    row = named.header_row or (grid.lines[0].row if grid.lines and not grid.names_at else 0)
    if free is None:
        return Given(header_row=row, shape=named.shape, columns=named.columns)
    told = free.sheet
    guessed = {g.what: g.value for g in told.columns}
    return Given(
        header_row=0 if row == told.header_row else row,
        shape="" if named.shape == told.shape.value and told.shape.stands else named.shape,
        columns={o: h for o, h in named.columns.items() if guessed.get(o, "").strip() != h.strip()},
    )


def _with_meter(f: FileGuess, shared: Mapping[tuple[str, str], GuessedSheet]) -> FileGuess:
    """Return a file's guess with that on its meter, which hangs on the other files."""
    if f.sheet is None or f.free is None:
        return f
    own = shared[f.free.sheet.file, f.free.sheet.sheet].settings
    more = tuple(g for g in own if g.what == "meter")
    return replace(f, sheet=replace(f.sheet, settings=(*f.sheet.settings, *more)))


def _forget(held: OrderedDict[tuple[Any, ...], Any], most: int) -> None:
    while len(held) > most:
        held.popitem(last=False)
