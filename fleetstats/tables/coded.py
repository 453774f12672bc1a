"""A column of a table as arrays: its different cells by number, or plain numbers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from fleetstats.core.value import Array


@dataclass(frozen=True, slots=True)
class Coded:
    """A column: its different cells, and for each row the number of its cell."""

    codes: Array
    cells: Sequence[Any]


@dataclass(frozen=True, slots=True)
class Numbers:
    """A column of plain numbers: NaN where blank, and `odd` where the cell is anything else."""

    values: Array
    odd: Array


Column = Callable[[str], Coded | Numbers | None]
"""Gives one of our columns by name, or None where the file has no such column."""


_ALIKE_ONLY_IF_EQUAL = {str, type(None)}
"""Kinds of cells that are never equal to one of another kind."""


def code_cells(cells: Iterable[Any]) -> Coded:
    """Return a column of cells with equal ones put together; 1, 1.0 and True stay apart."""
    cells = cells if isinstance(cells, Sequence) else list(cells)
    known: dict[Any, int]
    if set(map(type, cells)) <= _ALIKE_ONLY_IF_EQUAL:
        known = {c: k for k, c in enumerate(dict.fromkeys(cells))}
        number = np.fromiter(map(known.__getitem__, cells), dtype=np.int64, count=len(cells))
        return Coded(codes=number, cells=list(known))
    known = {}
    codes = [known.setdefault(c if type(c) is str else (type(c), c), len(known)) for c in cells]
    return Coded(
        codes=np.array(codes, dtype=np.int64),
        cells=[k if type(k) is str else k[1] for k in known],
    )
