"""A chapter that raises anything says so in its place, and the rest of the report is written."""

from __future__ import annotations

import dataclasses
import json
from contextlib import nullcontext
from pathlib import Path
from typing import Any

import pytest

from fleetstats.advice.results import Results
from fleetstats.chapters import registry
from fleetstats.chapters.compose import compose_checked
from fleetstats.core.errors import FitError, SettingError
from fleetstats.document.document import Statement
from fleetstats.report.checkers.answers import FOLDER, check_files
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import Study, read_study

STUDY = """[study]
title = "Six engines"
analysis_date = 2025-12-31
claimed_interval_h = 100
[[records]]
file = "lives.csv"
"""


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    folder = tmp_path_factory.mktemp("failing")
    rows = [f"A{i},{900 + i},running" for i in range(120)]
    (folder / "study.toml").write_text(STUDY, "utf-8")
    lives = "\n".join(["engine,exit_hours,ending", *rows, "B,800,failed"])
    (folder / "lives.csv").write_text(lives + "\n", "utf-8")
    return read_study(folder)


LONG = ("calls", "effects", "causes", "sources", "pooling", "between-sources", "looking-back")
"""Chapters that these tests do without, for the time they take."""


@pytest.fixture(autouse=True)
def few_chapters(monkeypatch: pytest.MonkeyPatch) -> None:
    for key in LONG:
        monkeypatch.delitem(registry.CHAPTERS, key)


def break_at(
    monkeypatch: pytest.MonkeyPatch, error: Exception, *, at: str, key: str = "hidden"
) -> None:
    def fail(*_: Any) -> None:
        raise error

    broken = dataclasses.replace(registry.CHAPTERS[key], **{at: fail})
    monkeypatch.setitem(registry.CHAPTERS, key, broken)


def statements(results: Results, key: str) -> list[str]:
    document = compose_checked(results)[1]
    section = next(s for s in document.sections if s.key == key)
    kept = [section.blocks[i] for i in section.kept] if section.kept else section.blocks
    return [b.text for b in kept if isinstance(b, Statement)]


@pytest.mark.parametrize(
    ("at", "error", "told", "warned"),
    [
        ("compute", FitError("No maximum.", "More lives."), "No maximum. More lives.", False),
        ("show", MemoryError(), "not enough memory", False),
        ("compute", ZeroDivisionError("secret"), "fault of the program (ZeroDivisionError", True),
        ("show", RecursionError("secret"), "fault of the program (RecursionError", True),
    ],
)
def test_whatever_a_chapter_raises_stands_in_its_place_and_on_the_first_page(
    error: Exception, told: str, warned: bool, at: str, study: Study,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    break_at(monkeypatch, error, at=at)
    # so that no test passes over a fault of the program
    asked = pytest.warns(RuntimeWarning, match="'hidden' broke") if warned else nullcontext()
    with asked:
        results, document = compose_checked(analyse(study))
    found = [c for c in document.cautions if c.code == "chapter-failed"]
    assert [c.where for c in found] == ["hidden"]
    assert told in found[0].text
    assert "secret" not in found[0].text
    # first page, claim, brief, prompt and data say it
    assert found == [c for c in results.advice.cautions if c.code == "chapter-failed"]
    assert results.advice.verdict is not None
    assert found[0].proviso in results.advice.verdict.provisos
    assert any("chapter-failed" in line for line in results.answer_lines())
    assert document.brief is not None
    assert any(found[0].text in line for part in document.brief.parts for line in part.lines)
    # in its place, in the body; what follows is there
    section = next(s for s in document.sections if s.key == "hidden")
    said = section.blocks[0]
    assert isinstance(said, Statement)
    assert (said.text, said.tone) == (found[0].text, "missing")
    assert section.annex == "" or 0 in section.kept
    assert {"claim", "plan", "provenance"} <= {s.key for s in document.sections}


def test_what_rests_on_a_failed_chapter_says_so_and_is_not_tried(
    study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    break_at(monkeypatch, MemoryError(), at="compute", key="change")
    results = analyse(study)
    failed = {c.where: c.text for c in results.troubles}
    assert set(failed) == {"change", "forecast", "stop-chance"}
    assert "rests on another part" in failed["forecast"]
    assert "forecast" not in results.chapters


@pytest.mark.parametrize("key", ["cautions", "claim"])
def test_an_answer_is_given_without_the_chapters_that_gather(
    key: str, study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A supported claim never loses its doubts for a fault where they are gathered."""
    break_at(monkeypatch, MemoryError(), at="compute", key=key)
    results, document = compose_checked(analyse(study))
    assert [c.where for c in document.cautions if c.code == "chapter-failed"] == [key]
    assert results.advice.verdict is not None
    assert any("could not be worked out" in p for p in results.advice.verdict.provisos)
    assert "could not be worked out" in json.dumps(results.to_dict())


def test_a_setting_that_cannot_be_meant_still_stops_the_study(
    study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    break_at(monkeypatch, SettingError("No such value."), at="compute")
    with pytest.raises(SettingError, match="No such value"):
        analyse(study)


def test_by_chunks_too_a_chapter_that_fails_leaves_the_answer(
    study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise MemoryError

    monkeypatch.setattr("fleetstats.studies.by_chunks.advise_claim", fail)
    results, document = compose_checked(analyse(study, True))
    assert [c.where for c in document.cautions if c.code == "chapter-failed"] == ["claim"]
    assert results.advice.verdict is not None
    assert any("could not be worked out" in p for p in results.advice.verdict.provisos)
    assert statements(results, "claim")[0].startswith("A part of the report could not be made")


def test_a_fit_beyond_the_shapes_that_bands_look_at_gives_a_report(tmp_path: Path) -> None:
    """All within 40 h of each other: the best shape is steeper than any wear."""
    rows = [f"A{i},{900 + i},{'running' if i % 9 else 'failed'}" for i in range(40)]
    (tmp_path / "study.toml").write_text(STUDY, "utf-8")
    lives = "\n".join(["engine,exit_hours,ending", *rows, ""])
    (tmp_path / "lives.csv").write_text(lives, "utf-8")
    results, document = compose_checked(analyse(read_study(tmp_path)))
    assert results.fit is not None
    assert document.answer
    told = check_files(results)[f"{FOLDER}/answers.csv"].decode()
    line = next(x for x in told.splitlines() if x.startswith("no_limits,"))
    assert "limits of the Weibull fit: there are none" in line
    assert not any(x.startswith("shape.low,") for x in told.splitlines())
