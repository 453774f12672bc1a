"""A quick study: the whole study's answer and brief, less what is named, and nothing beside them.

Invented lives; common practice, no source.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from click.testing import CliRunner

from fleetstats.advice.results import Results
from fleetstats.chapters.brief import compose_brief
from fleetstats.chapters.compose import compose_checked
from fleetstats.chapters.failing import name_of
from fleetstats.chapters.registry import CHAPTERS, quick_order
from fleetstats.chapters.weakest import find_weakest, say_left_out
from fleetstats.cli import main
from fleetstats.core.errors import ReportError
from fleetstats.core.value import Value
from fleetstats.document.brief import Brief
from fleetstats.document.document import Document
from fleetstats.report.quick import write_brief
from fleetstats.studies.analyse import analyse
from fleetstats.study.settings import BaseRateKeys
from fleetstats.study.study import read_study

STUDY = """\
[study]
title = "Two clubs"
analysis_date = 2026-09-30
claimed_interval_h = 500
seed = 3
[evidence]
resamples = 200
[cost]
ratio = 4
[base_rate]
per_10000_h = 40
source = "a public list"
[[records]]
file = "{name}.csv"
source = "{name} club"
[[records]]
file = "south.csv"
source = "south club"
"""

TOLD_APART = ("first-cautions", "cautions", "not-examined", "ends")
"""Parts of the brief that tell of a quick study: its caution, less those of chapters that it left
out; what was not examined; and the stop rule without its own chance."""


class Both(NamedTuple):
    folder: Path
    whole: Results
    whole_document: Document
    quick: Results
    quick_document: Document


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> Both:
    folder = tmp_path_factory.mktemp("clubs")
    (folder / "study.toml").write_text(STUDY.format(name="north"), "utf-8")
    for k, name in enumerate(("north", "south")):
        rows = ["engine,build,in service,exit hours,ending,cause,last reading"]
        for i in range(30):
            end = "failed,piston" if i % (4 + 2 * k) == 1 else "running,"
            rows.append(f"{name}-{i},{'ab'[i % 2]},2019-0{1 + i % 9}-01,"
                        f"{500 + 31 * i},{end},2026-0{1 + i % 8}-03")  # fmt: skip
        (folder / f"{name}.csv").write_text("\n".join(rows) + "\n", "utf-8")
    study = read_study(folder)
    return Both(
        folder,
        *compose_checked(analyse(study)),
        *compose_checked(analyse(study, quick=True)),
    )


def brief_of(document: Document) -> Brief:
    assert document.brief is not None
    return document.brief


def test_the_answer_and_every_part_that_tells_not_of_quickness_are_those_of_the_whole(
    both: Both,
) -> None:
    whole, quick = brief_of(both.whole_document), brief_of(both.quick_document)
    v, w = both.quick.advice.verdict, both.whole.advice.verdict
    assert v is not None
    assert w is not None
    assert (v.word, v.reliability) == (w.word, w.reliability)
    assert both.quick.advice.overhaul_band == both.whole.advice.overhaul_band
    assert quick.question == whole.question
    assert [p.key for p in quick.parts if p.key not in TOLD_APART] == [
        p.key for p in whole.parts if p.key not in TOLD_APART
    ]
    for part in quick.parts:
        if part.key not in TOLD_APART:
            # a pointer into the report that a quick study has not says so instead
            assert part.lines == getattr(whole.part(part.key), "lines", ()), part.key
            assert part.rows == getattr(whole.part(part.key), "rows", ()), part.key
    kept = {c.code for c in both.whole.advice.cautions}
    for key in quick_order(CHAPTERS, both.quick.settings):
        for c in getattr(both.quick.chapters.get(key), "cautions", ()):
            assert c.code in kept


def test_it_says_on_every_face_what_it_left_out(both: Both) -> None:
    left = both.quick.how_read.left_out
    known = [name_of(CHAPTERS[k]) for k in both.whole.chapters if k not in both.quick.chapters]
    assert len(known) >= 5
    assert set(known) <= set(left)
    said = say_left_out(both.quick.how_read)
    assert all(name in said for name in left)
    assert say_left_out(both.whole.how_read) == ""
    codes = [c.code for c in both.quick.advice.cautions]
    assert codes[0] == "quick-study"
    assert "quick-study" not in [c.code for c in both.whole.advice.cautions]
    brief = brief_of(both.quick_document)
    first, unseen = brief.part("first-cautions"), brief.part("not-examined")
    assert first is not None
    assert "quick study" in first.lines[0]
    assert "without --quick" in first.lines[0]
    assert unseen is not None
    assert unseen.lines[0] == said


def test_a_quick_report_has_a_number_of_its_own(both: Both) -> None:
    assert both.quick_document.report_id != both.whole_document.report_id


class Watched(Mapping[str, Value]):
    """Chapters that write down which of them are asked for."""

    def __init__(self, held: Mapping[str, Value]) -> None:
        self.held = dict(held)
        self.asked: set[str] = set()

    def __getitem__(self, key: str) -> Value:
        self.asked.add(key)
        return self.held[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self.held)

    def __len__(self) -> int:
        return len(self.held)


def test_a_chapter_that_the_brief_reads_is_worked_out_quickly_too(both: Both) -> None:
    """Asked of the brief and of its weakest points; the stop rule's chance needs the forecast."""
    chapters = Watched(both.whole.chapters)
    seen: Any = replace(both.whole, chapters=chapters)
    compose_brief(seen, both.whole_document.beside)
    find_weakest(seen, chapters)
    assert {"plan", "outlook", "weakest", "pooling"} <= chapters.asked
    known = {k for k in chapters.asked if k in CHAPTERS}
    settings = both.whole.settings
    assert known - set(quick_order(CHAPTERS, settings)) == {"stop-chance"}
    assert "hidden" in quick_order(CHAPTERS, settings)  # a public rate is held against it there
    points = seen.chapters["weakest"].points
    assert "public-rate" in [p.key for p in points], [p.key for p in points]
    bare = replace(settings, base_rate=BaseRateKeys())
    assert "hidden" not in quick_order(CHAPTERS, bare)


def test_one_page_and_its_figures_are_written_and_no_whole_report_is_replaced(
    both: Both, tmp_path: Path
) -> None:
    run = CliRunner().invoke(
        main, ["study", str(both.folder), "--quick", "--no-history", "--out", str(tmp_path / "q")]
    )
    assert run.exit_code == 0, run.output
    assert {p.name for p in (tmp_path / "q").iterdir()} == {
        "brief.html", "manifest.json", "results.json",
    }  # fmt: skip
    said = say_left_out(both.quick.how_read)
    assert said in run.output
    page = unescape((tmp_path / "q" / "brief.html").read_text("utf-8"))
    assert said in page
    assert "quick study" in page
    assert f"fleetstats study {both.folder}    (the whole report" in run.output
    told = json.loads((tmp_path / "q" / "results.json").read_text("utf-8"))
    assert told["provenance"]["command"].endswith("--quick")
    whole = tmp_path / "whole"
    whole.mkdir()
    (whole / "report.html").write_text("<p>whole</p>", "utf-8")
    listed = {"schema": "fleetstats/manifest/1", "files": {"report.html": "0" * 64}}
    (whole / "manifest.json").write_text(json.dumps(listed), "utf-8")
    with pytest.raises(ReportError, match="whole study"):
        write_brief(both.quick_document, both.quick, whole)
    assert (whole / "report.html").exists()
    refused = CliRunner().invoke(
        main, ["study", str(both.folder), "--quick", "--no-history", "--out", str(whole)]
    )
    assert refused.exit_code == 1
    assert "Read whole" not in refused.output  # before the work, not after it


def test_the_libraries_are_not_asked(both: Both) -> None:
    """Importing them takes as long as all the rest; their chapter is among those left out."""
    assert both.quick.opinions == ()
    assert both.whole.opinions
