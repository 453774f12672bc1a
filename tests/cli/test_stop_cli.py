"""Ctrl-C in any verb: a word, an exit code of its own, and nothing half-written."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
import weakref
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fleetstats.cli import main
from fleetstats.report import place, write

QUIET = Path(__file__).parents[2] / "datasets" / "quiet-fleet"


def interrupt(*_: Any, **__: Any) -> None:
    raise KeyboardInterrupt


@pytest.mark.parametrize("option", ["--whole", "--chunks"])
@pytest.mark.parametrize("at", ["draw_figures", "_take_place"])
def test_a_report_that_was_stopped_leaves_nothing(
    option: str, at: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    module = write if at == "draw_figures" else place
    if module is place:
        monkeypatch.setattr(write, "render_files", lambda *_a, **_k: {"manifest.json": b"{}"})
    monkeypatch.setattr(module, at, interrupt)
    got = CliRunner().invoke(main, ["study", str(QUIET), option, "--out", str(tmp_path / "out")])
    assert got.exit_code == 130
    assert "stopped; no half of a report was left behind" in got.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_stop_that_falls_into_a_callback_is_not_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def work(*_: Any, **__: Any) -> None:
        thing = threading.Event()
        watched = weakref.ref(thing, interrupt)
        del thing  # the interpreter swallows what a callback raises
        assert watched() is None
        end = time.monotonic() + 10
        while time.monotonic() < end:
            time.sleep(0.01)

    monkeypatch.setattr(write, "draw_figures", work)
    got = CliRunner().invoke(main, ["study", str(QUIET), "--out", str(tmp_path / "out")])
    assert got.exit_code == 130
    assert "Traceback" not in got.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGTERM is sent there")
def test_a_study_that_is_told_to_end_clears_up_without_a_word_of_its_children(
    tmp_path: Path,
) -> None:
    run = subprocess.Popen(
        [sys.executable, "-m", "fleetstats", "study", str(QUIET), "--out", str(tmp_path / "out")],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert run.stderr is not None
    told = [run.stderr.readline()]  # its first stage: the process beside has begun
    run.terminate()
    out, more = run.communicate(timeout=60)
    assert run.returncode == 143
    assert (out, more.splitlines()[-1]) == (
        "", "fleetstats: stopped; no half of a report was left behind."
    )  # fmt: skip
    assert "Warning" not in "".join((*told, more))
    assert list(tmp_path.iterdir()) == []
