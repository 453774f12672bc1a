"""Every public name has an example in its docstring, and it prints what it says."""

from __future__ import annotations

import doctest
import importlib
import inspect
from pathlib import Path

import pytest

import fleetstats

ROOT = Path(__file__).parents[2]
PACKAGE = Path(fleetstats.__file__).parent
INNER = sorted(
    ".".join(p.relative_to(PACKAGE.parent).with_suffix("").parts)
    for p in PACKAGE.rglob("*.py")
    if p.name != "__init__.py" and ">>> " in p.read_text(encoding="utf-8")
)
"""Modules with examples, most of them of public names."""


def examples_of(name: str) -> doctest.DocTest:
    """Return the examples of a public name's own docstring."""
    text = inspect.getdoc(getattr(fleetstats, name)) or ""
    return doctest.DocTestParser().get_doctest(text, {}, name, name, 0)


@pytest.mark.parametrize("name", fleetstats.__all__)
def test_the_example_prints_what_it_says(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It needs nothing but the package and the data sets, and no other name's example."""
    examples = examples_of(name)
    assert any(e.want for e in examples.examples), f"{name} has no example that prints anything"
    (tmp_path / "datasets").symlink_to(ROOT / "datasets")
    monkeypatch.chdir(tmp_path)
    said: list[str] = []
    runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS)
    runner.run(examples, out=said.append)
    assert runner.summarize(verbose=False).failed == 0, "".join(said)


@pytest.mark.parametrize("module", INNER)
def test_what_is_not_public_prints_what_it_says_too(
    module: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    public = {id(inspect.unwrap(getattr(fleetstats, n))) for n in fleetstats.__all__}
    held = importlib.import_module(module)
    (tmp_path / "datasets").symlink_to(ROOT / "datasets")
    monkeypatch.chdir(tmp_path)
    said: list[str] = []
    runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS)
    for test in doctest.DocTestFinder().find(held, module):
        inner = test.name.removeprefix(f"{module}.")
        if test.examples and id(inspect.unwrap(getattr(held, inner, runner))) not in public:
            runner.run(test, out=said.append)
    assert runner.summarize(verbose=False).failed == 0, "".join(said)
