"""Mends in the report and in a bundle; the fleet is invented."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import pytest

from fleetstats.advice.results import Results
from fleetstats.chapters.compose import compose_report
from fleetstats.document.document import Document, Section, Table
from fleetstats.records.mending.take import GIVE, SET_ASIDE, Decision, take_mends
from fleetstats.report.bundle import verify as verify_module
from fleetstats.report.bundle.pack import study_members, write_bundle
from fleetstats.report.bundle.verify import verify_bundle
from fleetstats.studies.analyse import analyse, read_lives_of
from fleetstats.study.study import MENDS_FILE, Study, read_study
from fleetstats.vocabulary.cautions import FIRST, rank_of

STUDY = """[study]
title = "made"
analysis_date = 2025-12-31
claimed_interval_h = 300
[treat]
failure-or-not = "accept"
[[records]]
file = "lives.csv"
source = "club"
"""


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    folder = tmp_path_factory.mktemp("mended")
    rows = [f"E-{k},{200 + 11 * k},running,,2025-11-01\n" for k in range(80)]
    rows += ["F-1,1O50,running,,2025-11-01\n", "F-2,640,failed,piston,2025-06-01\n",
             "F-3,700,failed,piston,2025-06-01\n", "F-4,310,running,,2025-11-01\n"]  # fmt: skip
    head = "engine,exit_hours,ending,cause,last_reading_date\n"
    (folder / "lives.csv").write_text(head + "".join(rows), encoding="utf-8")
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    made = read_study(folder)
    own = {"file": "lives.csv", "by": "records keeper", "why": "seen in the log book"}
    take_mends(made, [
        Decision(row=82, column="exit_hours", act=GIVE, new="1050", **own),
        Decision(row=84, column="ending", act=GIVE, new="running", **own),
        Decision(row=84, column="cause", act=GIVE, new="unknown", **own),
        Decision(row=85, act=SET_ASIDE, **own),
    ])  # fmt: skip
    return made


@pytest.fixture(scope="module")
def results(study: Study) -> Results:
    return analyse(study)


@pytest.fixture(scope="module")
def document(results: Results) -> Document:
    return compose_report(results)


def section_of(document: Document, key: str) -> Section:
    return next(s for s in document.sections if s.key == key)


def test_the_data_chapter_counts_mends_and_the_annex_lists_them(document: Document) -> None:
    data = str(dataclasses.asdict(section_of(document, "data")))
    assert "3 cells mended, 1 row set aside by decision" in data
    mends = section_of(document, "mends")
    (table,) = [b for b in mends.blocks if isinstance(b, Table)]
    told = str(dataclasses.asdict(table))
    for word in ("1O50", "1050", "seen in the log book", "records keeper", "row set aside",
                 "takes a failure out"):  # fmt: skip
        assert word in told
    assert "1 row tells of no failure any more" in str(dataclasses.asdict(mends))


def test_a_failure_mended_away_is_a_caution_of_the_first_rank(results: Results) -> None:
    (own,) = [c for c in results.advice.cautions if c.code == "failure-mended-away"]
    assert rank_of(own.code) == FIRST
    assert "lives.csv row 84" in own.text
    assert own.proviso == "1 row that tells of a failure does not count, by decision"
    assert MENDS_FILE in {f.name for f in results.provenance.files}


def test_the_claim_by_chunks_carries_the_same_caution(study: Study, results: Results) -> None:
    long = analyse(study, chunks=True)
    assert [c.text for c in long.advice.cautions if c.code == "failure-mended-away"] == [
        c.text for c in results.advice.cautions if c.code == "failure-mended-away"
    ]
    assert "mends" in long.chapters
    assert MENDS_FILE in {f.name for f in long.provenance.files}


def test_a_bundle_is_verified_with_its_mends(
    study: Study, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def run(study: Study, name: str, *, versions: object = None) -> tuple[None, dict[str, bytes]]:
        """Stand in for the whole study: a result that follows from the records as read."""
        hours = [float(r.exit_h) for r in read_lives_of(study)[1].used]
        failed = sum(r.ending == "failed" for r in read_lives_of(study)[1].used)
        told = json.dumps({"sum_h": sum(hours), "n": len(hours), "failed": failed})
        return None, {"results.json": told.encode(), "report.html": b"<p>page"}

    monkeypatch.setattr(verify_module, "report_members", run)
    members = {f"study/{k}": v for k, v in study_members(study).items()}
    members |= {f"report/{k}": v for k, v in run(study, study.name)[1].items()}
    out = tmp_path / "a.zip"
    write_bundle(members, out, name=study.name, seed=study.settings.study.seed)
    found = verify_bundle(out)
    assert (found.verdict, found.n_equal) == ("agrees", 3), str(found)
    members.pop(f"study/{MENDS_FILE}")
    write_bundle(members, out, name=study.name, seed=study.settings.study.seed)
    assert verify_bundle(out).verdict != "agrees", "without its mends it is another study"
