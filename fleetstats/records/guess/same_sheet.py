"""Which sheet of this year's files stands in for which record file of an earlier study."""

from __future__ import annotations

import functools
import re
import tempfile
from collections.abc import Callable, Collection, Mapping, Sequence
from itertools import takewhile
from pathlib import Path, PurePosixPath
from typing import Any, Final

from fleetstats.records.guess.guess import PassedSheet
from fleetstats.records.guess.sheet import ReadSheet
from fleetstats.study.files.patterns import is_pattern, matching
from fleetstats.study.study import RecordFile
from fleetstats.tables.cells import text
from fleetstats.tables.grid import SheetGrid
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.slugs import suffix_of

DEEPEST: Final = 60
"""Lines within which heads are looked for."""

Free = Mapping[tuple[str, str], ReadSheet | PassedSheet]
"""Sheets as guessed by themselves, by file and sheet."""

HeadsHeld = Callable[[int], Collection[frozenset[str]]]
"""The heads of the files that a table [[records]] of the earlier study named."""


def same_sheets(
    tables: Sequence[Sequence[RecordFile]], grids: Sequence[SheetGrid], free: Free,
    held: HeadsHeld,
) -> dict[int, list[SheetGrid]]:  # fmt: skip
    """Return the sheets that stand in for the files of each table [[records]], counted from 1.

    By the same name; by the same name but for figures, such as a year; by the pattern that the
    earlier study names; by the heads that it maps; by the same heads; and where one of each is
    left, by the same shape. Nothing is paired where a rule fits two tables; several sheets stand
    in for a pattern alone. Records that lie elsewhere are drawn: no sheet stands in for them.
    """
    out: dict[int, list[SheetGrid]] = {}
    left = list(grids)

    @functools.cache
    def means(pattern: str, name: str) -> bool:
        return bool(place_under(pattern, [name]))

    def told(g: SheetGrid) -> ReadSheet | None:
        sheet = free[g.file, g.sheet]
        return sheet if isinstance(sheet, ReadSheet) else None

    def may_be(f: RecordFile, g: SheetGrid) -> bool:
        if (t := told(g)) is None:  # heads of its own, known under what was said of the pattern
            return sum(x.file == g.file for x in grids) == 1
        return t.sheet.shape.value == f.shape and f.sheet in ("", g.sheet)

    rules: tuple[Callable[[RecordFile, SheetGrid], bool], ...] = (
        lambda f, g: (fold(f.file), fold(f.sheet or g.sheet)) == (fold(g.file), fold(g.sheet)),
        lambda f, g: (
            (_plain(f.file), _plain(f.sheet or g.sheet)) == (_plain(g.file), _plain(g.sheet))
        ),
        lambda f, g: bool(f.pattern) and means(f.pattern, g.file) and may_be(f, g),
        lambda f, g: bool(row_of_heads(f, g)),
        lambda f, g: has_heads(g, held(f.number)),
    )
    mine = {i: t for i, t in enumerate(tables, start=1) if not t[0].origin}
    for rule in rules:
        rest = [i for i in mine if i not in out or mine[i][0].pattern]
        fits = {i: [g for g in left if any(rule(f, g) for f in mine[i])] for i in rest}
        for i, found in fits.items():
            alone = [g for g in found if sum(g in other for other in fits.values()) == 1]
            if mine[i][0].pattern and alone:
                out.setdefault(i, []).extend(alone)
            elif len(found) == 1 == len(alone):
                out[i] = alone
        left = [g for g in left if not any(g in got for got in out.values())]
    open_now = [i for i in mine if i not in out]
    sheets = [(g, t) for g in left if (t := told(g)) is not None]
    if len(open_now) == 1 == len(sheets):
        grid, sheet = sheets[0]
        if sheet.sheet.shape.value == mine[open_now[0]][0].shape:
            out[open_now[0]] = [grid]
    return out


def place_under(pattern: str, names: Sequence[str], beside: Collection[str] = ()) -> dict[str, str]:
    """Return where files are to lie so that a pattern means just them; empty where it cannot.

    Parameters
    ----------
    pattern : str
        As a study file names it; a folder ends in a slash.
    names : sequence of str
        Names of files, without folders.
    beside : collection of str
        Names of files that lie beside them and that it must not mean.

    Examples
    --------
    >>> place_under("returns/*.csv", ["a.csv"]), place_under("club-*.csv", ["a.csv"])
    ({'a.csv': 'returns/a.csv'}, {})
    """
    parts = PurePosixPath(pattern).parts
    deep = [*takewhile(lambda p: not is_pattern(p), parts if pattern.endswith("/") else parts[:-1])]
    out = {n: PurePosixPath(*deep, n).as_posix() for n in names}
    with tempfile.TemporaryDirectory() as name:  # the reader of patterns itself says what is meant
        folder = Path(name)
        folder.joinpath(*deep).mkdir(parents=True, exist_ok=True)
        for made in (*out.values(), *beside):
            (folder / made).touch()
        meant = matching(pattern, folder, "file", [])
    return out if set(meant) == set(out.values()) and not {*names} & {*beside} else {}


def heads_of(cells: Sequence[Any]) -> frozenset[str]:
    """Return the heads in a line, however spelt and in whatever order."""
    return frozenset(h for c in cells if (h := fold(text(c))))


def has_heads(grid: SheetGrid, held: Collection[frozenset[str]]) -> bool:
    """Return whether a line near the top of a sheet holds the heads of an earlier one."""
    return any(heads_of(x.cells) in held for x in grid.lines[:DEEPEST])


def _plain(name: str) -> str:
    """Return a name without its figures, marks and kind of file."""
    stem = name.removesuffix(suffix_of(name))
    return " ".join(re.sub(r"[\W\d_]+", " ", fold(stem)).split())


def row_of_heads(file: RecordFile, grid: SheetGrid) -> int:
    """Return the line in which all heads stand that a study maps; 0 where there is none.

    So a sheet is known whose heads are words of its own, which no guess would know.
    """
    wanted = {fold(h) for h in file.columns.values()}
    for line in grid.lines[:DEEPEST] if wanted else ():
        if wanted <= {fold(text(c)) for c in line.cells}:
            return line.row
    return 0
