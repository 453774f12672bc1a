"""The guide to the Python interface runs as written and prints what it says."""

from __future__ import annotations

import contextlib
import io
import re
from pathlib import Path

import pytest

import fleetstats

ROOT = Path(__file__).parents[2]
GUIDE = ROOT / "reports" / "docs" / "api.md"
BLOCK = re.compile(r"^```python\n(.*?)^```$", re.MULTILINE | re.DOTALL)
SAYS = "# → "


def blocks() -> list[str]:
    return BLOCK.findall(GUIDE.read_text(encoding="utf-8"))


def test_every_block_runs_and_prints_what_the_guide_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "datasets").symlink_to(ROOT / "datasets")
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    for block in blocks():
        out = io.StringIO()
        with contextlib.redirect_stdout(out):
            exec(block, names)
        said = [x.removeprefix(SAYS) for x in block.splitlines() if x.startswith(SAYS)]
        assert out.getvalue().splitlines() == said, block
    assert (tmp_path / "out" / "report.pdf").is_file()


def test_the_guide_names_every_public_call() -> None:
    """Calls that a reader may use are in the guide; a new one must be told of."""
    text = GUIDE.read_text(encoding="utf-8")
    missing = [n for n in fleetstats.__all__ if not re.search(rf"\b{n}\b", text)]
    assert not missing, missing
