"""A table said once: each column with its title, its kind and how its cell is got from an item."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Generic, TypeVar

from fleetstats.core.value import Value, value
from fleetstats.document.cells import Cell
from fleetstats.document.document import Column, Table

Item = TypeVar("Item")


@value
class ColumnOf(Value, Generic[Item]):
    """A column with the rule that makes its cells."""

    column: Column
    cell: Callable[[Item], Cell]


def col(
    key: str,
    title: str,
    cell: Callable[[Item], Cell],
    kind: str = "text",
    *,
    help: str = "",
    edge: str = "",
    beside: tuple[float, ...] = (),
) -> ColumnOf[Item]:
    """Return a column whose cells are ``cell(item)``; the rest is as in `Column`."""
    column = Column(key=key, title=title, kind=kind, help=help, edge=edge, beside=beside)
    return ColumnOf(column=column, cell=cell)


def table_of(
    items: Iterable[Item],
    *,
    key: str,
    title: str,
    columns: Sequence[ColumnOf[Item]],
    see: str = "",
    folded: bool = False,
    uncut: bool = False,
) -> Table:
    """Return a table with one row for each item.

    >>> table = table_of(
    ...     [("A", 3), ("B", 5)],
    ...     key="builds",
    ...     title="Builds",
    ...     columns=(col("build", "Build", lambda x: x[0]), col("n", "Lives", lambda x: x[1])),
    ... )
    >>> table.rows
    (('A', 3), ('B', 5))
    """
    return Table(
        key=key,
        title=title,
        columns=tuple(c.column for c in columns),
        rows=tuple(tuple(c.cell(x) for c in columns) for x in items),
        see=see,
        folded=folded,
        uncut=uncut,
    )
