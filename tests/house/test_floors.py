"""The house keeps its shape: imports go down, libraries by their doors, files stay small."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "fleetstats"
FLOORS = {f: i for i, f in enumerate((
    "core", "vocabulary", "study", "tables", "records", "spells", "survival", "bands", "advice",
    "selftest", "document", "chapters", "studies", "report", "portfolio", "desk", "cli",
))} | {"demo": 16}  # fmt: skip
HEAVY = {"pandas", "scipy", "matplotlib", "lifelines", "reliability", "openpyxl", "pyarrow",
         "jinja2", "typst", "statsmodels", "distributed", "rich", "polars", "duckdb",
         "starlette", "uvicorn", "python_multipart"}  # fmt: skip
LONGEST = 400
ALONE = {"report/checkers/check": 580}
"""A script that people read and run without the package, so that it cannot be cut in two."""
FILES = sorted(PACKAGE.rglob("*.py"))


def name(path: Path) -> str:
    return path.relative_to(PACKAGE).with_suffix("").as_posix()


def imports_up(path: Path, tree: ast.Module) -> list[str]:
    """Return what a file imports of floors above its own; the package's front door may."""
    floor = FLOORS.get(path.relative_to(PACKAGE).parts[0])
    up = []
    for node in ast.walk(tree):
        modules = (
            [node.module or ""] if isinstance(node, ast.ImportFrom)
            else [a.name for a in node.names] if isinstance(node, ast.Import) else []
        )  # fmt: skip
        for module in modules:
            parts = module.split(".")
            if floor is not None and parts[0] == "fleetstats" and len(parts) > 1 and (
                FLOORS.get(parts[1], 0) > floor
            ):  # fmt: skip
                up.append(f"{name(path)} imports {module}, a floor above it")
    return up


def heavy_at_top(path: Path, tree: ast.Module) -> list[str]:
    """Return the heavy libraries that a file loads when it is imported."""
    at_top = [
        alias.name for node in tree.body if isinstance(node, ast.Import) for alias in node.names
    ] + [node.module or "" for node in tree.body if isinstance(node, ast.ImportFrom)]
    return [f"{name(path)} imports {m}" for m in at_top if m.split(".")[0] in HEAVY]


def test_imports_go_down_and_heavy_libraries_load_only_when_used() -> None:
    wrong = []
    for path in FILES:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        wrong += imports_up(path, tree) + heavy_at_top(path, tree)
    assert not wrong


@pytest.mark.parametrize(
    ("file", "source", "wrong"),
    [
        ("core/x.py", "from fleetstats.spells.spells import Spells", 1),
        ("core/x.py", "def f():\n    import fleetstats.cli", 1),
        ("cli/x.py", "from fleetstats.core.value import value", 0),
        ("core/x.py", "import scipy.special", 1),
        ("core/x.py", "from pandas import DataFrame", 1),
        ("core/x.py", "def f():\n    import scipy.special", 0),
        ("__init__.py", "from fleetstats.cli import main", 0),
    ],
)
def test_the_walk_sees_imports(file: str, source: str, wrong: int) -> None:
    path, tree = PACKAGE / file, ast.parse(source)
    assert len(imports_up(path, tree) + heavy_at_top(path, tree)) == wrong


def test_a_file_is_one_idea() -> None:
    lines = {name(p): len(p.read_text(encoding="utf-8").splitlines()) for p in FILES}
    long = {k: n for k, n in lines.items() if n > ALONE.get(k, LONGEST)}
    assert not long, f"at {LONGEST} lines a file is two ideas"
    assert lines.keys() >= ALONE.keys()


def test_the_top_level_holds_only_what_it_should() -> None:
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "fleetstats", "tests", "datasets",
               "reports"}  # fmt: skip
    top = PACKAGE.parent
    seen = {p.name for p in top.iterdir() if not p.name.startswith(".")}
    # what installing and the first command of the README leave behind, in a clone of a user's
    left = {"fleetstats.egg-info", "build", "dist", "fleetstats-demo"}
    ignored = {line.strip("/*") for line in (top / ".gitignore").read_text().splitlines()}
    assert left - {"fleetstats.egg-info"} <= ignored
    assert seen - allowed - left == set()


def test_no_path_of_a_machine_and_no_registry_is_committed() -> None:
    top = PACKAGE.parent
    bad = re.compile(r"(/root/|/home/\w+/|/work/|\.\./shared|pypi\.org|files\.pythonhosted)")
    found = [
        f"{path.relative_to(top)}: {match.group()}"
        for path in top.rglob("*")
        if path.is_file()
        and path.suffix in {".py", ".md", ".toml", ".json", ".csv", ".html", ".txt", ".svg", ""}
        and not any(part.startswith(".venv") or part in {".git", "__pycache__", ".hypothesis"}
                    or part.endswith(("_cache", ".egg-info")) for part in path.parts)
        and path != Path(__file__)
        for match in bad.finditer(path.read_text(encoding="utf-8", errors="ignore"))
    ]  # fmt: skip
    assert not found
