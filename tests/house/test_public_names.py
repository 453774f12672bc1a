"""The public names exist, and the README's Python runs as written."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import fleetstats

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("name", fleetstats.__all__)
def test_public_name_loads(name: str) -> None:
    assert getattr(fleetstats, name).__doc__


def test_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'fit_everything'"):
        fleetstats.fit_everything  # noqa: B018


def test_readme_opens_with_the_job_and_two_commands() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```\n(.*?)```", text, re.DOTALL)
    commands = blocks[0].strip().splitlines()
    assert len(commands) == 2
    assert all(c.startswith("python3 -m venv ") for c in commands)
    assert commands[0].endswith("fleetstats demo")
    assert commands[1].endswith("-m pytest")
    assert text.index("fleetstats reads a fleet's records") < text.index("```")


def test_readme_python_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    code = re.findall(r"```python\n(.*?)```", text, re.DOTALL)[0]
    (tmp_path / "datasets").symlink_to(ROOT / "datasets")
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    exec(code, names)
    assert (tmp_path / "reports" / "tow-clubs" / "report.html").is_file()
