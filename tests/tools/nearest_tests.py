"""Which test files look at a module: by imports, and by the names they hold."""

from __future__ import annotations

import ast
import re
from collections import deque
from pathlib import Path

FARTHEST = 3
"""Imports between a test file and a module beyond which it is not asked."""


class NearestTests:
    """The test files of a project, near or far from each module.

    Parameters
    ----------
    root : Path
        Folder that holds the package and ``tests/``.
    package : str
    left_out : tuple of str
        Beginnings of paths of test files that are never asked.
    """

    def __init__(self, root: Path, package: str, left_out: tuple[str, ...] = ()) -> None:
        self._package = package
        self._modules = {
            _module_name(p.relative_to(root)): p for p in sorted((root / package).rglob("*.py"))
        }
        self._imports = {
            name: self._imported(path.read_text(encoding="utf-8"))
            for name, path in self._modules.items()
        }
        self._tests: dict[str, tuple[set[str], set[str]]] = {}
        helpers = {p.stem: p for p in (root / "tests").glob("*.py")}
        for path in sorted((root / "tests").rglob("test_*.py")):
            file = path.relative_to(root).as_posix()
            if file.startswith(left_out):
                continue
            text = path.read_text(encoding="utf-8")
            asked = self._imported(text)
            for name, helper in helpers.items():
                if re.search(rf"^\s*(?:from|import) {name}\b", text, re.MULTILINE):
                    asked |= self._imported(helper.read_text(encoding="utf-8"))
            self._tests[file] = (asked, set(re.findall(r"[A-Za-z_]\w*", text)))

    def _imported(self, text: str) -> set[str]:
        """Return the modules of the package that a text imports, anywhere in it."""
        out: set[str] = set()
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Import):
                out |= {a.name for a in node.names if a.name in self._modules}
            elif isinstance(node, ast.ImportFrom) and node.module in self._modules:
                below = {f"{node.module}.{a.name}" for a in node.names} & set(self._modules)
                out |= below or {node.module}
        return out

    def _near(self, module: str) -> dict[str, int]:
        """Return modules by how many imports they are away from `module`."""
        importers: dict[str, set[str]] = {}
        for name, asked in self._imports.items():
            for other in asked:
                importers.setdefault(other, set()).add(name)
        away, todo = {module: 0}, deque([module])
        while todo:
            at = todo.popleft()
            for name in sorted(importers.get(at, ())):
                if name not in away and away[at] < FARTHEST:
                    away[name] = away[at] + 1
                    todo.append(name)
        return away

    def order(self, file: str, name: str) -> list[str]:
        """Return test files for a change in `file`, the likeliest to notice first.

        Parameters
        ----------
        file : str
            Path of a module below the root.
        name : str
            What was changed: words that a test may hold.
        """
        away = self._near(_module_name(Path(file)))
        stem, room = Path(file).stem, Path(file).parent.name
        words = set(name.split())
        ranked = []
        for test, (asked, held) in self._tests.items():
            steps = min((away[m] for m in asked if m in away), default=None)
            if steps is None:
                continue
            called = stem in Path(test).stem or room in Path(test).stem
            nearness = 3 * bool(words & held) + 2 * called + (stem in held)
            ranked.append((steps - nearness, len(asked), test))
        return [test for _, _, test in sorted(ranked)]


def _module_name(path: Path) -> str:
    parts = path.with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
