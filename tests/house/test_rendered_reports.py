"""The demo reports in the repository are what the code makes today (slow: whole studies run)."""

from __future__ import annotations

import functools
import hashlib
import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from browser import BROWSER, WIDTHS, play
from page_fill import fill_of

from fleetstats.chapters.compose import compose_report
from fleetstats.core.value import plain
from fleetstats.document.document import Document
from fleetstats.document.words import FORBIDDEN
from fleetstats.report.html import page_html
from fleetstats.report.pdf import report_pdf
from fleetstats.report.write import with_digest
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import read_study

ROOT = Path(__file__).parents[2]
RENDERED = ("tow-clubs", "quiet-fleet")
EVERY = sorted(p.parent.name for p in (ROOT / "datasets").glob("*/study.toml"))


def without_versions(told: dict[str, object]) -> dict[str, object]:
    """Return a report without the versions of libraries, which differ from machine to machine."""
    text = json.dumps(told)
    out: dict[str, object] = json.loads(text)
    out["provenance"]["versions"] = {}  # type: ignore[index]
    out["sections"] = [  # type: ignore[index]
        {**s, "blocks": [b for b in s["blocks"] if b.get("key") != "versions"]}
        for s in out["sections"]  # type: ignore[attr-defined]
    ]
    return out


@pytest.mark.slow
@pytest.mark.parametrize("name", RENDERED)
def test_the_committed_report_is_what_the_code_makes(name: str) -> None:
    told = json.loads((ROOT / "reports" / name / "report.json").read_text(encoding="utf-8"))
    for face_only in ("standing_notice", "data_version"):
        told.pop(face_only)
    figures = (ROOT / "reports" / name / "results.json").read_bytes()
    digest = hashlib.sha256(figures).hexdigest()  # known once the files of a report are made
    made = compose_report(analyse(read_study(ROOT / "datasets" / name)))
    fresh = plain(with_digest(made, digest))
    fresh = json.loads(json.dumps(fresh))
    assert without_versions(told) == without_versions(fresh)


@pytest.mark.parametrize("name", RENDERED)
def test_every_file_of_a_committed_report_is_as_its_manifest_says(name: str) -> None:
    folder = ROOT / "reports" / name
    listed = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))["files"]
    for file, digest in listed.items():
        assert hashlib.sha256((folder / file).read_bytes()).hexdigest() == digest, file
    there = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
    assert there == {*listed, "manifest.json"}


def told(name: str) -> dict[str, dict[str, list[dict[str, object]]]]:
    """Return the blocks of a committed report: "sections" or "summaries", then by key."""
    text = (ROOT / "reports" / name / "report.json").read_text(encoding="utf-8")
    content = json.loads(text)
    return {k: {s["key"]: s["blocks"] for s in content[k]} for k in ("sections", "summaries")}


@pytest.mark.parametrize("name", RENDERED)
def test_each_reader_s_page_says_what_the_chapters_say(name: str) -> None:
    """The same facts on the reader's page and in the chapter, their question first."""
    got = told(name)

    def first(section: str) -> str:
        blocks = got["sections"][section]
        return next(str(b["text"]) for b in blocks if "tone" in b)

    club = dict(got["summaries"]["for-club"][0]["rows"])  # type: ignore[call-overload]
    builder = dict(got["summaries"]["for-builder"][0]["rows"])  # type: ignore[call-overload]
    assert first("claim").removeprefix("May be quoted: ") == builder["What may be quoted?"]
    engines = first("outlook")
    assert club["Which engines first?"].endswith(engines) or engines.startswith("By hours")
    # planning begins only where an overhaul age is advised
    advised = "no overhaul age is advised" not in club["When to overhaul?"]
    assert ("where planning begins" in club["Which engines first?"]) == advised
    checks = next(v for k, v in club.items() if k.startswith("Are checks"))
    if "check-interval" in got["sections"]:
        assert checks.endswith(first("check-interval"))


@pytest.mark.parametrize("name", RENDERED)
def test_no_sentence_of_a_committed_report_promises_too_much(name: str) -> None:
    n = 0
    for sections in told(name).values():
        for key, blocks in sections.items():
            for b in blocks:
                for part in ("text", "see", "title", "alt"):
                    text = str(b.get(part, ""))
                    n += bool(text)
                    assert not FORBIDDEN.search(text), (key, text)
    assert n > 150


@functools.cache
def demo(name: str) -> Document:
    return compose_report(analyse(read_study(ROOT / "datasets" / name)))


@pytest.mark.slow
@pytest.mark.skipif(BROWSER is None, reason="no Chromium on this machine")
@pytest.mark.parametrize("name", EVERY)
def test_no_column_of_a_demo_lies_outside_a_page_of_400_pixels(name: str, tmp_path: Path) -> None:
    seen = play(page_html(demo(name)), tmp_path, 400, WIDTHS)
    assert (seen["page"], seen["window"]) == (400, 400)
    assert seen["spill"] == seen["cut"] == []


@pytest.mark.slow
@pytest.mark.skipif(
    any(shutil.which(tool) is None for tool in ("pdftoppm", "pdftotext")),
    reason="the tools that draw and read a PDF are not installed",
)
@pytest.mark.parametrize("name", EVERY)
def test_the_printed_body_is_short_and_no_page_of_a_demo_is_nearly_empty(
    name: str, tmp_path: Path
) -> None:
    """At least a third of each page is used; the annexes begin within ten pages of the contents."""
    file = tmp_path / "r.pdf"
    file.write_bytes(report_pdf(demo(name)))
    fills = fill_of(file)
    assert min(fills) >= 1 / 3, fills
    text = subprocess.run(["pdftotext", "-layout", str(file), "-"], check=True, capture_output=True)
    pages = text.stdout.decode().split("\f")
    contents = next(i for i, page in enumerate(pages) if re.search(r"^\s*Contents", page, re.M))
    annexes = [i for i, page in enumerate(pages) if re.search(r"^\s*Annex A: ", page, re.M)]
    first = next(i for i in annexes if i > contents)
    assert first - contents <= 9, (contents, first)
