"""Which sheet of this year's files stands in for which record file of an earlier study."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Final

from fleetstats.records.guess.guess import PassedSheet
from fleetstats.records.guess.sheet import ReadSheet
from fleetstats.study.study import RecordFile
from fleetstats.tables.cells import text
from fleetstats.tables.grid import SheetGrid
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.slugs import suffix_of

DEEPEST: Final = 60
"""Lines within which heads are looked for."""

Free = Mapping[tuple[str, str], ReadSheet | PassedSheet]
"""Sheets as guessed by themselves, by file and sheet."""


def same_sheets(
    files: Sequence[RecordFile], grids: Sequence[SheetGrid], free: Free
) -> dict[int, SheetGrid]:
    """Return the sheet that stands in for each file, files counted from 1.

    By the same name; by the same name but for figures, such as a year; by the heads that the
    earlier study maps; and where one of each is left, by the same shape. Nothing is paired where a
    rule fits two.
    """
    out: dict[int, SheetGrid] = {}
    left = list(grids)
    rules: tuple[Callable[[RecordFile, SheetGrid], bool], ...] = (
        lambda f, g: (fold(f.file), fold(f.sheet or g.sheet)) == (fold(g.file), fold(g.sheet)),
        lambda f, g: (
            (_plain(f.file), _plain(f.sheet or g.sheet)) == (_plain(g.file), _plain(g.sheet))
        ),
        lambda f, g: bool(row_of_heads(f, g)),
    )
    for rule in rules:
        open_now = [i for i in range(1, len(files) + 1) if i not in out]
        fits = {i: [g for g in left if rule(files[i - 1], g)] for i in open_now}
        for i, mine in fits.items():
            if len(mine) == 1 and sum(mine[0] in other for other in fits.values()) == 1:
                out[i] = mine[0]
        left = [g for g in left if g not in out.values()]
    left = [g for g in left if isinstance(free[g.file, g.sheet], ReadSheet)]
    rest = [i for i in range(1, len(files) + 1) if i not in out]
    if len(rest) == 1 == len(left):
        told = free[left[0].file, left[0].sheet]
        if isinstance(told, ReadSheet) and told.sheet.shape.value == files[rest[0] - 1].shape:
            out[rest[0]] = left[0]
    return out


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
