"""Which line of a sheet holds the column names, under titles and merged cells."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from fleetstats.records.guess.profile import kind_of_cell
from fleetstats.records.guess.shapes import heads_of
from fleetstats.study.record_settings import SHAPES
from fleetstats.tables.cells import is_blank, text
from fleetstats.tables.grid import SheetGrid, place_of_row
from fleetstats.vocabulary.tongues.bare import bare

LINES_LOOKED_AT = 40
"""Lines of content among which the column names are looked for."""

SAID = "it was said so"
LINES_BELOW = 12
LONGEST_HEAD = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """Where the column names stand: place among the lines, heads, what stands above each, why."""

    at: int
    heads: tuple[str, ...]
    above: tuple[str, ...]
    reason: str
    n_known: int


@lru_cache(maxsize=1)
def _known() -> frozenset[str]:
    return frozenset(w for shape in SHAPES for w in heads_of(shape))


def find_header(grid: SheetGrid, row: int = 0) -> Header | None:
    """Find the line of the column names; None where no line looks like one.

    `row` is the line as a spreadsheet numbers it where somebody said which it is, else 0.

    A line counts for each cell that is a known head, for texts, and for how the cells below differ
    from it: names stand over numbers and dates.
    """
    lines = grid.lines
    if row:
        at = place_of_row(lines, row)
        return None if at < 0 else _header(grid, at, SAID, _n_known(lines[at].cells))
    if grid.names_at:
        return _header(grid, 0, "the file says so", _n_known(lines[0].cells))
    best, best_score = -1, 0.0
    for i, line in enumerate(lines[:LINES_LOOKED_AT]):
        score = _score(grid, i, line.cells)
        if score > best_score:
            best, best_score = i, score
    if best < 0:
        return None
    n = _n_known(lines[best].cells)
    reason = f"{n} of its cells are names of columns" if n else "texts over figures"
    return _header(grid, best, reason, n)


def _n_known(cells: tuple[Any, ...]) -> int:
    known = _known()
    return sum(bare(text(c)[:LONGEST_HEAD]) in known for c in cells if isinstance(c, str))


def _score(grid: SheetGrid, i: int, cells: tuple[Any, ...]) -> float:
    filled = [j for j, c in enumerate(cells) if not is_blank(c)]
    if not filled:
        return 0.0
    kinds = {j: kind_of_cell(cells[j]) for j in filled}
    texts = [j for j, k in kinds.items() if k in ("word", "id", "flag")]
    n_known = _n_known(cells)
    if (len(filled) < 2 and not n_known) or len(texts) < len(filled) / 2:
        return 0.0
    below = grid.lines[i + 1 : i + 1 + LINES_BELOW]
    if not below:
        return 0.0
    under = sum(
        any(
            j < len(b.cells)
            and not is_blank(b.cells[j])
            and kind_of_cell(b.cells[j]) in ("number", "date")
            for b in below
        )
        for j in texts
    )
    width = max(sum(not is_blank(c) for c in b.cells) for b in below)
    # a row of data repeats below what it holds; a line of names does not
    repeats = sum(
        any(j < len(b.cells) and text(b.cells[j]) == text(cells[j]) for b in below) for j in filled
    )
    cover = min(1.0, len(filled) / max(width, 1))
    return (3.0 * n_known + 1.5 * under - 2.0 * repeats) * cover + 0.1 * len(texts) * cover


def _header(grid: SheetGrid, at: int, reason: str, n_known: int) -> Header:
    line = grid.lines[at]
    heads = tuple(text(c) for c in line.cells)
    above = [""] * len(heads)
    if at and grid.lines[at - 1].row == line.row - 1:
        over = grid.lines[at - 1].cells
        if sum(not is_blank(c) for c in over) >= 2:
            last = ""
            for j in range(len(heads)):
                cell = over[j] if j < len(over) else None
                last = text(cell) if not is_blank(cell) else last
                above[j] = last
    return Header(at=at, heads=heads, above=tuple(above), reason=reason, n_known=n_known)
