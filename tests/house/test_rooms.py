"""The rooms inside the floors: no circles, doors of chapters, one class to a name, few files."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Mapping
from pathlib import Path

import pytest

from fleetstats.core.pause import collection_paused

PACKAGE = Path(__file__).parents[2] / "fleetstats"
FILES = {
    ".".join(p.relative_to(PACKAGE).with_suffix("").parts).removesuffix(".__init__"): p
    for p in sorted(PACKAGE.rglob("*.py"))
    if p != PACKAGE / "__init__.py"
}
MOST_FILES = 20
LONGEST_FUNCTION = 60


@pytest.fixture(scope="module")
def trees() -> Mapping[str, ast.Module]:
    """Return each file as parsed, for as long as these tests run."""
    with collection_paused():
        return {name: ast.parse(path.read_text(encoding="utf-8")) for name, path in FILES.items()}


def imports_of(tree: ast.Module) -> set[str]:
    """Return the modules of the package that a module imports, wherever in it."""
    out = set()
    for node in ast.walk(tree):
        if not isinstance(node, ast.ImportFrom) or not (node.module or "").startswith("fleetstats"):
            continue
        module = (node.module or "").removeprefix("fleetstats").removeprefix(".")
        inner = {f"{module}.{a.name}" for a in node.names} & FILES.keys()
        out |= inner or ({module} & FILES.keys())
    return out


@pytest.fixture(scope="module")
def edges(trees: Mapping[str, ast.Module]) -> Mapping[str, set[str]]:
    """Return the modules that each module imports."""
    return {name: imports_of(tree) for name, tree in trees.items()}


def circles(edges: Mapping[str, set[str]]) -> list[set[str]]:
    """Return the sets of more than one node that can all reach each other (Tarjan 1972)."""
    index: dict[str, int] = {}
    low: dict[str, int] = {}
    stack: list[str] = []
    found = []

    def visit(v: str) -> None:
        index[v] = low[v] = len(index)
        stack.append(v)
        for w in edges.get(v, ()):
            if w not in index:
                visit(w)
                low[v] = min(low[v], low[w])
            elif w in stack:
                low[v] = min(low[v], index[w])
        if low[v] == index[v]:
            ring = set()
            while v not in ring:
                ring.add(stack.pop())
            if len(ring) > 1:
                found.append(ring)

    for v in list(edges):
        if v not in index:
            visit(v)
    return found


def test_the_search_for_circles_finds_one() -> None:
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}}) == [{"a", "b", "c"}]


def test_no_files_import_in_a_circle(edges: Mapping[str, set[str]]) -> None:
    assert sum(map(len, edges.values())) > len(FILES)  # the walk finds imports at all
    assert circles(edges) == []


def room(name: str) -> str:
    """Return the room of a module: its folder inside the floor, or itself beside the folders."""
    path = FILES[name]
    parts = path.relative_to(PACKAGE).parts
    return ".".join(parts[:2]) if len(parts) > 2 else name


def test_no_rooms_import_in_a_circle(edges: Mapping[str, set[str]]) -> None:
    rooms: dict[str, set[str]] = defaultdict(set)
    for name, used in edges.items():
        rooms[room(name)] |= {room(u) for u in used} - {room(name)}
    assert circles(dict(rooms)) == []


def test_a_chapter_is_entered_by_its_door(edges: Mapping[str, set[str]]) -> None:
    """Only the registry, which is the table of chapters, names what is inside."""
    inside = [
        f"{name} imports {used}"
        for name, all_used in edges.items()
        for used in all_used
        if used.startswith("chapters.")
        and used.count(".") == 2
        and name != "chapters.registry"
        and room(name) != room(used)
    ]
    assert inside == []


def test_a_class_name_is_used_once(trees: Mapping[str, ast.Module]) -> None:
    where = defaultdict(list)
    for name, tree in trees.items():
        for node in tree.body:
            if isinstance(node, ast.ClassDef):
                where[node.name].append(name)
    assert {k: v for k, v in where.items() if len(v) > 1} == {}


def kept_under(tree: ast.AST) -> list[str]:
    """Return the words under which a file keeps work with a value: the first word of each key."""
    words = []
    for node in ast.walk(tree):
        if not (isinstance(node, ast.Call) and getattr(node.func, "id", "") == "kept"):
            continue
        key = node.args[1] if len(node.args) > 1 else None
        key = key.elts[0] if isinstance(key, ast.Tuple) else key
        if isinstance(key, ast.Constant) and isinstance(key.value, str):
            words.append(key.value)
    return words


def test_what_is_kept_with_a_value_has_a_word_of_its_own(trees: Mapping[str, ast.Module]) -> None:
    """Two works under one word: whoever came second took up what was not its own."""
    assert kept_under(ast.parse("kept(x, 'a', f); kept(x, ('b', 1), g)")) == ["a", "b"]
    words = [w for tree in trees.values() for w in kept_under(tree)]
    assert len(words) > 25
    assert sorted({w for w in words if words.count(w) > 1}) == []


@pytest.mark.parametrize(
    "folder", sorted({p.parent for p in FILES.values()}), ids=lambda p: p.name or "fleetstats"
)
def test_a_folder_is_one_idea(folder: Path) -> None:
    assert len(list(folder.glob("*.py"))) <= MOST_FILES


def long_functions(name: str, tree: ast.Module) -> list[str]:
    """Return the functions of a file that are more than one thought.

    Their docstrings are not counted: shapes, units and sources take the room that they take.
    """
    long = []
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            doc = node.body[0] if ast.get_docstring(node) else None
            said = 0 if doc is None else (doc.end_lineno or 0) - doc.lineno + 1
            lines = (node.end_lineno or 0) - node.lineno + 1 - said
            if lines > LONGEST_FUNCTION:
                long.append(f"{name}.{node.name} has {lines} lines")
    return long


def test_a_function_is_one_thought(trees: Mapping[str, ast.Module]) -> None:
    assert not [x for name, tree in trees.items() for x in long_functions(name, tree)]


@pytest.mark.parametrize(("lines", "long"), [(LONGEST_FUNCTION, 0), (LONGEST_FUNCTION + 1, 1)])
def test_the_lines_of_a_function_are_counted_without_its_docstring(lines: int, long: int) -> None:
    told = '    """Say\n\n    much."""\n'
    body = "class A:\n  def f():\n" + told + "    x = 1\n" * (lines - 1)
    assert len(long_functions("a", ast.parse(body))) == long
