"""Years are compared on the page as at a prompt, and a bundle is judged before it is read."""

from __future__ import annotations

import json
import tempfile
import time
import zipfile
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from click.testing import CliRunner
from desk_client import Served, served

from fleetstats.cli import main
from fleetstats.core.errors import ReportError
from fleetstats.report.bundle.pack import study_members, write_bundle
from fleetstats.report.bundle.verify import study_of_bundle
from fleetstats.study.study import read_study

STUDY = """\
[study]
title = "Club"
analysis_date = {year}-12-31
claimed_interval_h = 900
confidence = {confidence}
seed = 7
[[records]]
file = "lives.csv"
"""


def make_study(folder: Path, year: int, *, more_h: int, confidence: float = 0.9) -> Path:
    """Invented: 14 engines that run on from year to year, and one that fails in the second."""
    folder.mkdir(parents=True)
    (folder / "study.toml").write_text(STUDY.format(year=year, confidence=confidence), "utf-8")
    rows = [
        f"E-{i},{400 + 37 * i + (0 if i % 4 == 0 else more_h)},"
        f"{'failed' if i % 4 == 0 or (i == 5 and more_h) else 'running'}"
        for i in range(14)
    ]
    (folder / "lives.csv").write_text("\n".join(["engine,exit_hours,ending", *rows, ""]), "utf-8")
    return folder


def pack(folder: Path, out: Path, **more: bytes) -> Path:
    """Pack a study as a bundle without the files of its report, which nothing here looks at."""
    members = {f"study/{k}": v for k, v in study_members(read_study(folder)).items()}
    members |= {f"study/{k}": v for k, v in more.items()}
    write_bundle(members, out, name=folder.name, seed=7)
    return out


def job_of(desk: Served) -> dict[str, object]:
    for _ in range(600):
        job: dict[str, object] = json.loads(desk.ask("GET", "/job").text)
        if job["state"] != "running":
            return job
        time.sleep(0.1)
    raise AssertionError(job)


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A desk on a study that has last year's within."""
    folder = make_study(tmp_path_factory.mktemp("club") / "club", 2025, more_h=90, confidence=0.8)
    make_study(folder / "before" / "club-2024", 2024, more_h=0)
    outside = tmp_path_factory.mktemp("outside")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tempfile, "tempdir", str(outside))
        with served(folder) as client:
            yield client
    assert list(outside.iterdir()) == []  # what was dropped went when the desk was closed


@pytest.mark.parametrize("how", ["bundle", "folder"])
def test_the_lines_are_those_of_the_verb(club: Served, tmp_path: Path, how: str) -> None:
    """Asked both ways, of a bundle and of a folder within: one answer."""
    old = club.folder / "before" / "club-2024"
    there = {p: p.read_bytes() for p in club.folder.rglob("*") if p.is_file()}
    if how == "bundle":
        data = pack(old, tmp_path / "b.zip").read_bytes()
        reply = club.drop({"last year.zip": data}, "/years/compare")
    else:
        assert "<option>before/club-2024</option>" in club.see("/years")
        reply = club.act("/years/compare", earlier="before/club-2024")
    assert reply.tone == "done", reply.said
    job = job_of(club)
    assert job["state"] == "done", job
    told = CliRunner().invoke(main, ["compare", str(old), str(club.folder)])
    assert told.exit_code == 0, told.output
    assert job["told"] == told.stdout.rstrip("\n")
    assert "study.confidence: 0.9 → 0.8" in told.stdout
    assert "E-5: failed since" in told.stdout
    page = unescape(club.see("/years"))
    assert f'<p class="lines">{job["told"]}</p>' in page
    assert {p: p.read_bytes() for p in club.folder.rglob("*") if p.is_file()} == there
    assert list(Path(tempfile.gettempdir()).glob("fleetstats-earlier-*")) or how == "folder"


@pytest.mark.parametrize("earlier", ["..", "before", "/", "before/../before/club-2024", "nowhere"])
def test_only_a_study_within_the_folder_is_taken(club: Served, earlier: str) -> None:
    assert club.act("/years/compare", earlier=earlier).tone == "wrong"


def test_a_link_is_no_folder_within(club: Served, tmp_path: Path) -> None:
    make_study(tmp_path / "away", 2023, more_h=0)
    link = club.folder / "linked"
    link.symlink_to(tmp_path / "away", target_is_directory=True)
    try:
        assert "<option>linked</option>" not in club.see("/years")
        assert club.act("/years/compare", earlier="linked").tone == "wrong"
    finally:
        link.unlink()


def test_a_bundle_that_was_changed_is_told_and_nothing_is_compared(
    club: Served, tmp_path: Path
) -> None:
    good = pack(club.folder / "before" / "club-2024", tmp_path / "b.zip")
    bad = tmp_path / "bad.zip"
    with zipfile.ZipFile(good) as old, zipfile.ZipFile(bad, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name).replace(b"E-3,511,running", b"E-3,911,running"))
    assert club.drop({"b.zip": bad.read_bytes()}, "/years/compare").tone == "done"
    job = job_of(club)
    assert job["state"] == "failed"
    assert "'study/lives.csv' is not as its list says" in str(job["told"])


def test_a_study_is_taken_from_a_bundle_only_as_it_was_packed(tmp_path: Path) -> None:
    """Each thing that verifying judges without a new run is refused; the whole one is taken."""
    old = make_study(tmp_path / "club-2024", 2024, more_h=0)
    place = tmp_path / "place"
    taken = study_of_bundle(pack(old, tmp_path / "good.zip"), place / "good")
    assert {p.name: p.read_bytes() for p in taken.iterdir()} == study_members(read_study(old))
    with pytest.raises(ReportError, match=r"'study/more\.csv' belongs to no study"):
        study_of_bundle(pack(old, tmp_path / "more.zip", **{"more.csv": b"x"}), place / "more")
    members = {f"study/{k}": v for k, v in study_members(read_study(old)).items()}
    write_bundle(members, tmp_path / "seed.zip", name="club-2024", seed=8)
    with pytest.raises(ReportError, match="tells of seed 8, its study of 7"):
        study_of_bundle(tmp_path / "seed.zip", place / "seed")
    with zipfile.ZipFile(tmp_path / "good.zip") as whole, \
            zipfile.ZipFile(tmp_path / "less.zip", "w") as less:  # fmt: skip
        less.writestr("bundle.json", whole.read("bundle.json"))
    with pytest.raises(ReportError, match="is missing"):
        study_of_bundle(tmp_path / "less.zip", place / "less")
    assert not (place / "less").exists()
