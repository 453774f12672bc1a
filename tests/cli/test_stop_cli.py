"""Ctrl-C in any verb: a word, an exit code of its own, and nothing half-written."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fleetstats.cli import main
from fleetstats.report import write

QUIET = Path(__file__).parents[2] / "datasets" / "quiet-fleet"


def interrupt(*_: Any, **__: Any) -> None:
    raise KeyboardInterrupt


@pytest.mark.parametrize("verb", ["study", "large"])
@pytest.mark.parametrize("at", ["draw_figures", "_swap"])
def test_a_report_that_was_stopped_leaves_nothing(
    verb: str, at: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if at == "_swap":
        monkeypatch.setattr(write, "render_files", lambda *_a, **_k: {"manifest.json": b"{}"})
    monkeypatch.setattr(write, at, interrupt)
    got = CliRunner().invoke(main, [verb, str(QUIET), "--out", str(tmp_path / "out")])
    assert got.exit_code == 130
    assert "stopped; no half of a report was left behind" in got.stderr
    assert list(tmp_path.iterdir()) == []
