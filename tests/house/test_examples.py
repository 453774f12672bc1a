"""Every public name has an example in its docstring, and it prints what it says."""

from __future__ import annotations

import doctest
import inspect
from pathlib import Path

import pytest

import fleetstats

ROOT = Path(__file__).parents[2]


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
