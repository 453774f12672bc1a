"""Equal cells parsed once: a column holds far fewer different texts than rows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Generic, TypeVar

T = TypeVar("T")

MOST_KEPT = 200_000
"""Different texts kept of one column; past it each further one is parsed when it comes."""


class Memo(Generic[T]):
    """A parser of cells that remembers what texts became.

    What a parser raises is raised each time. Only texts are remembered: other cells may be equal
    and yet of different kinds, as 1 and True are.
    """

    __slots__ = ("_parse", "known")

    def __init__(self, parse: Callable[[Any], T]) -> None:
        self._parse = parse
        self.known: dict[str, T] = {}

    def __call__(self, cell: Any) -> T:
        """Return the parsed cell."""
        if type(cell) is not str:
            return self._parse(cell)
        if cell in self.known:
            return self.known[cell]
        value = self._parse(cell)
        if len(self.known) < MOST_KEPT:
            self.known[cell] = value
        return value

    def each(self, cells: Sequence[Any]) -> list[T]:
        """Return all parsed cells of a column, each text parsed once."""
        texts, only = texts_of(cells)
        known = {c: self(c) for c in texts}
        if only:
            return list(map(known.__getitem__, cells))
        return [known[c] if type(c) is str else self._parse(c) for c in cells]


def texts_of(cells: Sequence[Any]) -> tuple[set[str], bool]:
    """Return the different texts of a column, and whether it holds nothing else."""
    if set(map(type, cells)) <= {str}:
        return set(cells), True
    return {c for c in cells if type(c) is str}, False
