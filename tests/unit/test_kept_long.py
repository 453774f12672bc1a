"""A table read by chunks and studied again: what rests on the same is taken up, and no digit moves.

Held to the same study with nothing kept; the data are a demo's, and invented.
"""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from fleetstats.core.shelf import open_shelf
from fleetstats.studies import by_chunks, kept_main, kept_pairing, long_apart
from fleetstats.studies.analyse import analyse
from fleetstats.studies.long_chapters import LONG_CHAPTERS
from fleetstats.study.study import Study, read_study

DATA = Path(__file__).parents[2] / "datasets"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FLEETSTATS_KEPT", str(tmp_path / "kept"))
    monkeypatch.setattr(kept_pairing, "FROM_ROWS", 0)
    return shutil.copytree(DATA / "quiet-fleet", tmp_path / "study")


def told(study: Study, *, keep: bool, said: list[str] | None = None) -> str:
    shelf = open_shelf(study.folder, tell=(said if said is not None else []).append)
    return json.dumps(analyse(study, chunks=True, shelf=shelf if keep else None).to_dict())


def with_setting(study: Study, table: str, **keys: Any) -> Study:
    s = study.settings
    return replace(study, settings=replace(s, **{table: replace(getattr(s, table), **keys)}))


def test_unchanged_nothing_is_worked_out_and_a_setting_touches_those_that_ask_it(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    study, said = read_study(folder), list[str]()
    anew = told(study, keep=False)
    assert told(study, keep=True) == anew
    worked: list[str] = []
    real = long_apart.work_long

    def noting(key: str, *rest: Any) -> Any:
        worked.append(key)
        return real(key, *rest)

    def never(*_: object) -> Any:
        raise AssertionError("worked out anew")

    monkeypatch.setattr(long_apart, "work_long", noting)
    with monkeypatch.context() as patch:
        patch.setattr(kept_main, "work_main", never)
        patch.setattr(by_chunks, "pair_lives", never)
        assert told(study, keep=True, said=said) == anew
    # one that fails has nothing to be kept
    assert worked == []
    assert any("chapters of which no ground has changed" in x for x in said)
    # one setting that the forecast asks, and neither the fit nor the claim
    other = with_setting(study, "fleet", hours_per_year=111.0)
    with monkeypatch.context() as patch:
        patch.setattr(kept_main, "work_main", never)
        patch.setattr(by_chunks, "pair_lives", never)
        touched = told(other, keep=True)
    assert {"plan", "outlook"} <= set(worked) < set(LONG_CHAPTERS)
    assert touched == told(other, keep=False) != anew
    # one that nearly all ask
    surer = with_setting(study, "study", confidence=0.8)
    assert told(surer, keep=True) == told(surer, keep=False) != anew
