"""Files of this year read as last year's were: an earlier study carried, what is new asked.

A sheet that stands in for one of the earlier study's is read with its columns, maps and ways; words
that its maps do not know are guessed as those of raw files are. Other sheets are guessed whole.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from fleetstats.core.errors import SettingError
from fleetstats.core.files import write_whole
from fleetstats.core.value import Value, value
from fleetstats.records.guess.guess import (
    LIKELY,
    SURE,
    Given,
    Guess,
    GuessedSheet,
    GuessedStudy,
    PassedSheet,
)
from fleetstats.records.guess.repairs import ask_repairs
from fleetstats.records.guess.same_sheet import row_of_heads, same_sheets
from fleetstats.records.guess.sheet import ReadSheet
from fleetstats.records.guess.study import gather, name_files, read_grid, read_grids
from fleetstats.records.guess.write import (
    FLAGS,
    OPEN_MARK,
    OPEN_SIGN,
    STOPPING,
    add_sheets,
    remark_of,
)
from fleetstats.study.carry import (
    CarriedStudy,
    EarlierStudy,
    lay_out_carried,
    read_earlier,
    tell_carried,
)
from fleetstats.study.edit import set_key, unset_key
from fleetstats.study.scaffold import toml_text
from fleetstats.study.study import MAX_FILES, STUDY_FILE, RecordFile
from fleetstats.tables.grid import SheetGrid, open_grids
from fleetstats.tables.table import TableError
from fleetstats.vocabulary.fold import fold

WORDS: Final = ("endings", "kinds", "causes", "renews")
"""Maps of words; those of columns are the earlier study's as long as the heads are there."""


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
    if many := [f.asked for f in earlier.study.files if f.pattern or f.origin]:
        raise SettingError(
            f"The earlier study names several files, or records elsewhere, as {many[0]}.",
            "Begin without files: 'fleetstats begin NEW --from OLD' carries all; then put this "
            "year's files into the new folder, or draw them.",
        )
    named = name_files([Path(f) for f in files])
    grids = {n: _open(n, p) for n, p in named.items()}
    placed, guessed = _read(earlier, grids, named, today)
    if len(earlier.study.files) + len(guessed.sheets) - len(placed) > MAX_FILES:
        raise SettingError(f"The study would hold more than {MAX_FILES} files and sheets.")
    day = _day(guessed)
    told = tell_carried(
        earlier, {i: s.place for i, s in placed.items()}, day="" if day is None else day.value,
        more=tuple(_unlike(earlier, placed, guessed.settings)),
    )  # fmt: skip
    fresh = {i: _new_of(earlier.study.files[i - 1], s) for i, s in placed.items()}
    text = _with_files(earlier, placed, fresh)
    text = _with_settings(text, earlier, guessed.settings)
    others = [s for s in guessed.sheets if s not in placed.values()]
    if others:
        text = add_sheets(text, replace(guessed, sheets=tuple(others)))
    lay_out_carried(folder, earlier, told, text, named)
    asked = ask_repairs(replace(guessed, sheets=(*fresh.values(), *others)), Path(folder))
    path = Path(folder) / STUDY_FILE
    before = text = path.read_text(encoding="utf-8")
    numbers = [*fresh, *range(len(earlier.study.files) + 1, MAX_FILES + 1)]
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
    earlier: EarlierStudy, grids: Mapping[str, tuple[SheetGrid, ...]], named: Mapping[str, Path],
    today: dt.date | None,
) -> tuple[dict[int, GuessedSheet], GuessedStudy]:  # fmt: skip
    """Return the sheets that stand in for earlier files, by their numbers, and all sheets."""
    every = [g for file in grids.values() for g in file]
    free = {(g.file, g.sheet): read_grid(g) for g in every}
    pairs = same_sheets(earlier.study.files, every, free)
    given = {(pairs[i].file, pairs[i].sheet): i for i in pairs}
    read: list[ReadSheet] = []
    passed: list[PassedSheet] = []
    for file in grids.values():
        mine, none = read_grids(file, lambda g: _under(g, earlier, free, given))
        read, passed = [*read, *mine], [*passed, *none]
    guessed = gather(read, passed, named, today=today)
    placed = {
        given[s.file, s.sheet]: s for s in guessed.sheets if (s.file, s.sheet) in given
    }  # fmt: skip
    return placed, guessed


def _under(
    grid: SheetGrid, earlier: EarlierStudy, free: Mapping[tuple[str, str], ReadSheet | PassedSheet],
    given: Mapping[tuple[str, str], int],
) -> ReadSheet | PassedSheet:  # fmt: skip
    """Guess a sheet under what the earlier study says of the one that it stands in for."""
    place = (grid.file, grid.sheet)
    if place not in given:
        return free[place]
    f = earlier.study.files[given[place] - 1]
    told = free[place]
    row = row_of_heads(f, grid)
    row = row or (told.sheet.header_row if isinstance(told, ReadSheet) else f.header_row)
    out = read_grid(grid, Given(header_row=row, shape=f.shape, columns=dict(f.columns)))
    if isinstance(out, PassedSheet):
        return out
    return replace(out, sheet=out.sheet.with_words(f.endings | f.kinds))


def _new_of(file: RecordFile, sheet: GuessedSheet) -> GuessedSheet:
    """Return a sheet with only those guesses that the earlier study does not settle.

    A word that stood in the earlier file was met: what was made of it then is made of it now.
    """
    met = _words_met(file)

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


def _words_met(file: RecordFile) -> dict[str, set[str]]:
    """Return the words of an earlier file by map; none where it is not at hand any more."""
    out: dict[str, set[str]] = {"endings": set(), "kinds": set(), "causes": set()}
    try:
        grids = open_grids(file.path, file.file)
    except (TableError, OSError):
        return out
    given = Given(header_row=file.header_row, shape=file.shape, columns=dict(file.columns))
    for grid in grids:
        told = read_grid(grid, given) if file.sheet in ("", grid.sheet) else None
        if isinstance(told, ReadSheet):
            for name, words in out.items():
                words |= {fold(g.what) for g in getattr(told.sheet, name)}
    return out


def _with_files(
    earlier: EarlierStudy, placed: Mapping[int, GuessedSheet], fresh: Mapping[int, GuessedSheet]
) -> str:
    """Return the carried text with this year's files in place of the earlier, and what is new."""
    text = earlier.text
    for i, s in placed.items():
        was = earlier.study.files[i - 1]
        text = set_key(text, ("records", i, "file"), s.file)
        if s.sheet != was.sheet:
            path = ("records", i, "sheet")
            text = set_key(text, path, s.sheet) if s.sheet else unset_key(text, path)
        if (s.header_stated or was.header_row) and s.header_row != was.header_row:
            why = f"{LIKELY}: {s.header_reason}."
            text = set_key(text, ("records", i, "header_row"), s.header_row, comment=why)
        for table in ("columns", "endings", "kinds", "causes"):
            for g in getattr(fresh[i], table):
                text = with_guess(text, i, table, g)
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
    if re.search(rf'^# {key} = "…"    {OPEN_MARK}', text, re.MULTILINE | re.IGNORECASE):
        return text
    # the place of a value is the place of the remark that asks for it
    bare = unset_key(text, path)
    lines = set_key(bare, path, OPEN_SIGN).split("\n")
    at = next((k for k, x in enumerate(lines) if re.match(rf'"?{key[1:-1]}"? = "…"', x)
               and x not in bare.split("\n")), -1)  # fmt: skip
    asked = f'# {toml_text(g.what)} = "…"    {remark_of(g)}'
    if at < 0:  # the table is written in braces, where no remark can stand
        return f"{bare.rstrip()}\n\n# [records.{table}] of file {number}:\n{asked}\n"
    lines[at] = asked
    return "\n".join(lines)


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


def _unlike(
    earlier: EarlierStudy, placed: Mapping[int, GuessedSheet], settings: Iterable[Guess]
) -> Iterator[str]:
    """Yield what this year's files seem to write otherwise than the earlier study says."""
    for g in settings:
        table, _, key = g.what.partition(".")
        if not g.stands or g.what == "study.analysis_date" or g.what in STOPPING:
            continue
        held = getattr(getattr(earlier.study.settings, table), key, None)
        if g.value != _shown(held):
            yield f"{key} under [{table}] is carried as {_shown(held)}; {g.reason} ({g.value})."
    for i, s in placed.items():
        f = earlier.study.files[i - 1]
        for g in s.settings:
            if g.stands and g.what != "source" and getattr(f, g.what) not in ("", "auto", g.value):
                yield (
                    f"{g.what} of {s.place} is carried as {getattr(f, g.what)}; {g.reason} "
                    f"({g.value})."
                )


def _shown(held: Any) -> str:
    return next((k for k, v in FLAGS.items() if v is held), str(held))
