"""Chapters of a table read by chunks that a process beside works out are those worked out here.

Held to the same study without such a process, to the byte; the data are a demo's, and invented.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from fleetstats.core.beside import Beside, can_split
from fleetstats.core.shelf import Shelf, open_shelf
from fleetstats.studies import long_apart
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import read_study

DATA = Path(__file__).parents[2] / "datasets"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FLEETSTATS_KEPT", str(tmp_path / "kept"))
    monkeypatch.setattr(long_apart, "FROM_ROWS", 0)
    return shutil.copytree(DATA / "quiet-fleet", tmp_path / "study")


def told(folder: Path, beside: Beside | None, shelf: Shelf | None = None, **how: bool) -> str:
    study = read_study(folder)
    return json.dumps(analyse(study, chunks=True, beside=beside, shelf=shelf, **how).to_dict())


@pytest.fixture
def here(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Note the chapters that this process works out."""
    seen: list[str] = []
    real = long_apart.work_long

    def noting(key: str, *rest: Any) -> Any:
        seen.append(key)
        return real(key, *rest)

    monkeypatch.setattr(long_apart, "work_long", noting)
    return seen


def test_chapters_worked_out_beside_are_those_worked_out_here(
    folder: Path, here: list[str]
) -> None:  # fmt: skip
    alone = told(folder, None)
    assert set(long_apart.LONG_APART) < set(here)
    here.clear()
    with Beside(wanted=True) as beside:
        assert told(folder, beside) == alone
    if can_split():
        assert long_apart.LONG_APART[0] not in here
    here.clear()
    with Beside(wanted=False) as beside:
        assert told(folder, beside) == alone
    assert set(long_apart.LONG_APART) < set(here)


def test_they_are_kept_as_others_are_and_none_is_asked_for_again(
    folder: Path, here: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = open_shelf(folder)
    with Beside(wanted=True) as beside:
        first = told(folder, beside, shelf)
    here.clear()

    def never(*_: object, **__: object) -> Any:
        raise AssertionError("asked for a process")

    with Beside(wanted=True) as beside:
        monkeypatch.setattr(beside, "share", never)
        assert told(folder, beside, shelf) == first
    assert not set(long_apart.LONG_APART) & set(here)
    assert told(folder, None) == first


def test_of_few_lives_and_of_a_quick_study_read_whole_nothing_is_done_beside(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object, **__: object) -> Any:
        raise AssertionError("asked for a process")

    monkeypatch.setattr(long_apart, "FROM_ROWS", 1_000_000)
    with Beside(wanted=True) as beside:
        monkeypatch.setattr(beside, "share", never)
        monkeypatch.setattr(beside, "_submit", never)
        told(folder, beside, quick=True)
        analyse(read_study(folder), chunks=False, quick=True, beside=beside)


def test_one_that_fails_beside_fails_as_it_does_here(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A process that dies of it is the same: the work is done here."""
    real = long_apart.work_long

    def failing(key: str, *rest: Any) -> Any:
        if key == "plan":
            raise ValueError("no plan")
        return real(key, *rest)

    monkeypatch.setattr(long_apart, "work_long", failing)
    with pytest.warns(RuntimeWarning, match="'plan' broke"):
        alone = told(folder, None)
    with Beside(wanted=True) as beside, pytest.warns(RuntimeWarning, match="'plan' broke"):
        assert told(folder, beside) == alone
