"""Small changes of a module's source: each number outside functions, each comparison, and/or.

A mutant is one change of a text, at a place; making it is pure, so nothing is touched on disk here.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass

SWAPS: dict[type[ast.cmpop], tuple[str, tuple[str, ...]]] = {
    ast.Lt: ("<", ("<=", ">=")),
    ast.LtE: ("<=", ("<", ">")),
    ast.Gt: (">", (">=", "<=")),
    ast.GtE: (">=", (">", "<")),
    ast.Eq: ("==", ("!=",)),
    ast.NotEq: ("!=", ("==",)),
    ast.In: ("in", ("not in",)),
    ast.NotIn: ("not in", ("in",)),
    ast.Is: ("is", ("is not",)),
    ast.IsNot: ("is not", ("is",)),
}
"""An operator, and what stands in its place: the other side of the boundary, then the opposite."""

SKIPPED_NAMES = {"__name__", "TYPE_CHECKING"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutant:
    """One change.

    Parameters
    ----------
    file : str
        Path below the root, with slashes.
    line : int
        From 1.
    start, end : int
        Bytes of the text that is replaced.
    before, after : str
    name : str
        What it stands in: a function, a method, or the names that an assignment gives.
    """

    file: str
    line: int
    start: int
    end: int
    before: str
    after: str
    name: str

    @property
    def key(self) -> str:
        """Return what tells it from all others while the file stays as it is."""
        return f"{self.file}:{self.line}:{self.start}:{self.before}->{self.after}"

    def apply(self, text: bytes) -> bytes:
        """Return the text with the change made."""
        if text[self.start : self.end] != self.before.encode():
            raise ValueError(f"{self.file} has changed since it was read.")
        return text[: self.start] + self.after.encode() + text[self.end :]


class _Place:
    """Bytes of nodes in one file."""

    def __init__(self, file: str, text: bytes) -> None:
        self.file, self.text = file, text
        self.begins = [0]
        for line in text.splitlines(keepends=True):
            self.begins.append(self.begins[-1] + len(line))

    def span(self, node: ast.expr) -> tuple[int, int]:
        return (
            self.begins[node.lineno - 1] + node.col_offset,
            self.begins[(node.end_lineno or node.lineno) - 1] + (node.end_col_offset or 0),
        )

    def change(self, start: int, end: int, after: str, name: str) -> Mutant:
        return Mutant(
            file=self.file,
            line=self.text.count(b"\n", 0, start) + 1,
            start=start,
            end=end,
            before=self.text[start:end].decode(),
            after=after,
            name=name,
        )

    def between(self, left: ast.expr, right: ast.expr, word: str) -> tuple[int, int] | None:
        """Return where an operator stands between two operands; None if it is not found."""
        low, high = self.span(left)[1], self.span(right)[0]
        at = self.text.find(word.encode(), low, high)
        return None if at < 0 else (at, at + len(word))


def changed_number(value: float) -> str:
    """Return another number, as near as a wrong one would be: one more, or a tenth more."""
    if isinstance(value, int):
        return str(value + 1)
    return "0.1" if value == 0 else repr(round(value * 1.1, 12))


def _is_number(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and type(node.value) in (int, float)


def _number(place: _Place, node: ast.Constant, name: str) -> Mutant:
    value = node.value
    assert isinstance(value, int | float)
    return place.change(*place.span(node), changed_number(value), name)


def _of_comparison(place: _Place, node: ast.Compare, name: str) -> Iterator[Mutant]:
    if any(isinstance(n, ast.Name) and n.id in SKIPPED_NAMES for n in ast.walk(node)):
        return
    operands = [node.left, *node.comparators]
    for left, op, right in zip(operands, node.ops, node.comparators, strict=False):
        word, others = SWAPS[type(op)]
        where = place.between(left, right, word)
        if where is None:
            continue
        for other in others:
            yield place.change(*where, other, name)
        if isinstance(right, ast.Tuple | ast.Set) and isinstance(op, ast.In | ast.NotIn):
            yield from _without_each(place, right, name)
    for operand in operands:
        for n in ast.walk(operand):
            if _is_number(n):
                yield _number(place, n, name)  # type: ignore[arg-type]


def _without_each(place: _Place, node: ast.Tuple | ast.Set, name: str) -> Iterator[Mutant]:
    """Yield the collection without each of its members in turn."""
    if len(node.elts) < 2:
        return
    for k, gone in enumerate(node.elts):
        start, end = place.span(gone)
        if k + 1 < len(node.elts):
            end = place.span(node.elts[k + 1])[0]
            yield place.change(start, end, "", name)
        else:
            yield place.change(place.span(node.elts[k - 1])[1], end, ",", name)


def _of_junction(place: _Place, node: ast.BoolOp, name: str) -> Iterator[Mutant]:
    word, other = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
    for left, right in zip(node.values, node.values[1:], strict=False):
        where = place.between(left, right, word)
        if where is not None:
            yield place.change(*where, other, name)


def _names_of(node: ast.stmt) -> str:
    targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
    return " ".join(t.id for t in targets if isinstance(t, ast.Name))


def _walk(place: _Place, node: ast.AST, name: str, inside: bool) -> Iterator[Mutant]:
    """Yield the changes below a node; `inside` a function numbers count only in comparisons."""
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
        arguments = node.args
        for default in [*arguments.defaults, *arguments.kw_defaults]:
            if default is not None:
                yield from _walk(place, default, node.name, False)
        for statement in node.body:
            yield from _walk(place, statement, node.name, True)
        return
    if isinstance(node, ast.AnnAssign):
        if node.value is not None:
            yield from _walk(place, node.value, _names_of(node) or name, inside)
        return
    if isinstance(node, ast.Compare):
        yield from _of_comparison(place, node, name)
    elif isinstance(node, ast.BoolOp):
        yield from _of_junction(place, node, name)
    elif _is_number(node) and not inside:
        yield _number(place, node, name)  # type: ignore[arg-type]
    if isinstance(node, ast.Assign):
        name = (_names_of(node) if not inside else "") or name
    elif isinstance(node, ast.ClassDef):
        name = node.name
    for child in ast.iter_child_nodes(node):
        yield from _walk(place, child, name, inside)


def mutants_of(file: str, text: bytes) -> list[Mutant]:
    """Return every change of a file that is still Python, in order of place.

    Parameters
    ----------
    file : str
        As it will be named.
    text : bytes
        Its source, UTF-8.

    Raises
    ------
    SyntaxError
        If the source cannot be parsed.
    """
    place = _Place(file, text)
    found = {m.key: m for m in _walk(place, ast.parse(text), "", False)}
    return sorted(
        (m for m in found.values() if _parses(m.apply(text))), key=lambda m: (m.start, m.after)
    )


def _parses(text: bytes) -> bool:
    try:
        ast.parse(text)
    except SyntaxError:
        return False
    return True
