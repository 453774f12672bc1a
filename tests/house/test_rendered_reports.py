"""The demo reports in the repository are what the code makes today (slow: whole studies run)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from fleetstats.core.value import plain
from fleetstats.decide.analyse import analyse
from fleetstats.records.study import read_study
from fleetstats.report.compose import compose_report

ROOT = Path(__file__).parents[2]
RENDERED = ("tow-clubs", "quiet-fleet")


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
    told.pop("standing_notice")
    fresh = plain(compose_report(analyse(read_study(ROOT / "datasets" / name))))
    fresh = json.loads(json.dumps(fresh))
    assert without_versions(told) == without_versions(fresh)


@pytest.mark.parametrize("name", RENDERED)
def test_every_file_of_a_committed_report_is_as_its_manifest_says(name: str) -> None:
    import hashlib

    folder = ROOT / "reports" / name
    listed = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))["files"]
    for file, digest in listed.items():
        assert hashlib.sha256((folder / file).read_bytes()).hexdigest() == digest, file
    there = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
    assert there == {*listed, "manifest.json"}
