"""`export --short` at the prompt: one small page, names replaced on request, the digest told.

Invented lives; common practice, no source.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from click.testing import CliRunner

from fleetstats.cli import main
from fleetstats.report.bundle.faces import judge_faces

STUDY = """\
[study]
title = "Lives of a hangar"
asked_by = "Aunt Berta"
decided_by = "Uncle Caspar"
analysis_date = 2026-09-30
claimed_interval_h = 500
seed = 11
[evidence]
resamples = 200
[[records]]
file = "hangar-seven.csv"
shape = "lives"
source = "Grunwald club"
"""
LIVES = "engine,entry,exit,ending,cause,last reading,owner\n" + "".join(
    f"SN-{i}-KESTREL,0,{400 + 25 * i},{'failed,piston' if i % 8 == 3 else 'running,'},"
    f"2026-0{1 + i % 9}-03,Quentin\n"
    for i in range(24)
)
NAMES = ("KESTREL", "Grunwald", "hangar-seven", "Quentin", "Berta", "Caspar")


def made(place: Path) -> Path:
    folder = place / "hangar"
    folder.mkdir()
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    (folder / "hangar-seven.csv").write_text(LIVES, encoding="utf-8")
    return folder


def test_one_page_is_written_with_names_or_without(tmp_path: Path) -> None:
    folder = made(tmp_path)
    hidden = ["--pseudonymous", "--key-file", str(tmp_path / "k")]
    for more, named in (([], True), (hidden, False)):
        out = tmp_path / f"{named}.html"
        run = CliRunner().invoke(
            main, ["export", str(folder), "--short", "--out", str(out), "--quiet", *more]
        )
        assert run.exit_code == 0, run.output
        page = out.read_text(encoding="utf-8")
        assert len(page.encode()) < 300_000
        assert "Decision of the person who is competent" in page
        found = [n for n in NAMES if n in page]
        # the owner's column is nobody's evidence, source and file stand in no line here
        assert found == (["KESTREL", "Berta", "Caspar"] if named else []), found
        assert ("names replaced" in run.output) == (not named)
        assert ("Names of engines and sources are replaced" in page) == (not named)


def test_without_a_form_it_asks_for_one(tmp_path: Path) -> None:
    run = CliRunner().invoke(main, ["export", str(made(tmp_path))])
    assert run.exit_code == 2
    assert "--short" in run.output


def test_with_other_versions_the_digest_printed_is_that_of_the_figures_beside_it() -> None:
    """Figures that differ in a last digit have another digest: that alone alters no face."""

    def sha(data: bytes) -> bytes:
        return hashlib.sha256(data).hexdigest().encode()

    before, now = b'{"x": 1.0000000001}', b'{"x": 1.0}'
    fresh = {"results.json": now, "report.html": b"signed " + sha(now)}
    for printed, altered in ((sha(before), ()), (sha(b"forged"), ("report.html",))):
        members = {"report/results.json": before, "report/report.html": b"signed " + printed}
        judged = judge_faces(members, fresh, alike=False, same_program=True, tolerance=1e-6)
        assert judged.altered == altered
