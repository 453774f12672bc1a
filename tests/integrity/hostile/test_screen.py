"""Whatever a record, a name or a bundle holds: a terminal gets printable letters and line ends."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from fleetstats.cli import main
from fleetstats.cli.options import answer
from fleetstats.core.screen import screen_line, screen_text
from fleetstats.report.bundle.figures import Difference
from fleetstats.report.bundle.pack import write_bundle
from fleetstats.report.bundle.verify import Verification

SOURCE = Path(__file__).parents[3] / "fleetstats"
STEERING = "\x1b[31m\x1b]0;t\x07\r\b\u202e\u2066\u200f\u2028\x85\x9b2J\x7f\x00\x0bX\nFORGED: Agrees"
"""Escape sequences, bell, return, marks of direction, separators, C1 signs, a NUL, a new line."""

TYPED = STEERING.replace("\0", "")
"""What a prompt or a shell can hand on: no NUL."""

STUDY = """\
[study]
title = "Six lives"
analysis_date = 2026-09-30
claimed_interval_h = 300
[evidence]
resamples = 200
[[records]]
file = "lives.csv"
shape = "lives"
"""
HEADER = ["engine", "exit", "ending", "cause", "source", "note", "build", "last reading", "odd"]


def lay_out(place: Path, columns: tuple[int, ...]) -> Path:
    """Write a study with a row that is hostile in each of these columns; its folder's name too."""
    folder = place / "six\x1b[31mlives\u202e"
    folder.mkdir()
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    dated = ["B1", "2026-09-01", "x"]
    with (folder / "lives.csv").open("w", newline="", encoding="utf-8") as f:
        out = csv.writer(f)
        out.writerow([*HEADER[:-1], HEADER[-1] + STEERING])
        for i in range(6):
            ending = ["failed", "valve"] if i < 2 else ["running", ""]
            out.writerow([f"SN-{i}", 300 + 50 * i, *ending, f"club {i % 2}", "n", *dated])
        for at in columns:
            cells = [f"SN-9{at}", "900", "failed", "valve", "club 0", "n", *dated]
            cells[at] += STEERING
            out.writerow(cells)
    return folder


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A study in which every text of the records steers a terminal."""
    return lay_out(tmp_path_factory.mktemp("screen"), tuple(range(len(HEADER))))


@pytest.fixture(scope="module")
def that_runs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One in which those texts do that an audit lets pass."""
    return lay_out(tmp_path_factory.mktemp("runs"), (0, 3, 4, 5, 6, 8))


def run(words: list[str], *codes: int) -> str:
    got = CliRunner().invoke(main, words)
    assert isinstance(got.exception, SystemExit | None), got.exception
    assert got.exit_code in codes, got.output
    for stream in (got.stdout, got.stderr):
        assert stream.replace("\n", "").isprintable()
        assert not re.search(r"^FORGED", stream, re.MULTILINE)
    return got.output


@pytest.mark.parametrize("verb", ["check", "claim", "bundle --show"])
@pytest.mark.parametrize("as_json", [False, True])
def test_no_text_of_the_records_steers_the_screen(folder: Path, verb: str, as_json: bool) -> None:
    word, *options = verb.split()
    words = [word, str(folder), *options, *(["--json"] if as_json else [])]
    told = run([*words, "--no-history"] if word == "claim" else words, 0, 1, 2, 3)
    assert told


def test_no_study_steers_the_screen(that_runs: Path, tmp_path: Path) -> None:
    report = tmp_path / "report\x1b[31m"
    told = run(["study", str(that_runs), "--out", str(report), "--no-history"], 0, 3)
    assert "\\x1b[31m" in told
    assert (report / "report.pdf").exists()


def test_no_bundle_steers_the_screen(
    that_runs: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Packing is what prints; the report in it is another test's."""
    monkeypatch.setattr("fleetstats.report.bundle.pack.report_members", lambda *_: (None, {}))
    told = run(["bundle", str(that_runs), "--out", str(tmp_path / "b\x07.zip")], 0)
    assert "b\\x07.zip: 2 files" in told
    members = {"study/study.toml": STEERING.encode(), "report/results.json": b"{}"}
    origin = {"departures": [{"said": STEERING, "effect": STEERING}]}
    write_bundle(members, tmp_path / "c\x07.zip", name="six", seed=1, origin=origin)
    for options in ([], ["--json"]):
        assert "[31m" in run(["verify", str(tmp_path / "c\x07.zip"), *options], 1)


def test_no_verdict_steers_the_screen() -> None:
    texts = (STEERING, STEERING)
    figures = (Difference(path=STEERING, bundled=STEERING, now=STEERING, relative=None),)
    found = Verification(
        verdict="altered", name=STEERING, digest=STEERING, altered=texts, missing=texts,
        extra=texts, tolerance=0.0, doubled=texts, flaws=texts, n_figures=1, differences=figures,
        versions=texts, faces_altered=texts, faces_unjudged=texts, trouble=STEERING,
        departures=texts,
    )  # fmt: skip
    told = str(found)
    assert told.replace("\n", "").isprintable()
    assert not re.search(r"^FORGED", told, re.MULTILINE)
    assert told.count("FORGED") >= 18


@pytest.mark.parametrize(
    "words",
    [
        ["check", "none" + TYPED], ["study", "none" + TYPED], ["claim", "none" + TYPED],
        ["verify", "none" + TYPED], ["bundle", "none" + TYPED], ["none" + TYPED],
        ["check", "x", "--fail-on", TYPED], ["compare", "a" + TYPED, "b" + TYPED],
        ["check-return", "a" + TYPED],
    ],
    ids=lambda w: " ".join(w)[:12].replace("\x1b", ""),
)  # fmt: skip
def test_no_name_that_was_typed_steers_the_screen(words: list[str]) -> None:
    run(words, 1, 2)


@pytest.mark.parametrize("key", ["title", "asked_by", "file", "shape", "unknown"])
def test_no_word_of_a_study_file_steers_the_screen(key: str, tmp_path: Path) -> None:
    hostile = json.dumps(STEERING)  # spelled as TOML spells it as well
    line = {"asked_by": "title", "unknown": "title"}.get(key, key)
    told = f"{hostile} = 1" if key == "unknown" else f"{key} = {hostile}"
    text = re.sub(rf'^{line} = "(.*)"', lambda _: told, STUDY, flags=re.M)
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    (tmp_path / "lives.csv").write_text("engine,exit,ending\nE-1,100,failed\n")
    assert "\\x1b[31m" in run(["check", str(tmp_path)], 2)


def test_json_says_the_same_and_spells_it(capsys: pytest.CaptureFixture[str]) -> None:
    value = {"a" + STEERING: [STEERING, "é", 1.5]}
    answer(value, "", as_json=True)
    told = capsys.readouterr().out
    assert told.replace("\n", "").isprintable()
    assert json.loads(told) == value


def test_plain_text_stays_and_half_a_letter_can_be_printed() -> None:
    assert screen_text("Öl, 1 200 h – “ok”\n次") == "Öl, 1 200 h – “ok”\n次"
    assert screen_line("a\nb") == "a\\nb"
    assert screen_text("\udcff").isprintable()


def test_there_is_one_door_to_the_screen() -> None:
    """No other call of the package writes there; the last is a progress line of fixed words."""
    doors = []
    for path in SOURCE.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        if re.search(r"click\.echo\(|^ *print\(|sys\.std(out|err)\.write\(", text, re.MULTILINE):
            doors.append(path.relative_to(SOURCE).as_posix())
    # the script that an inspector runs uses nothing of ours, and cleans its own lines; a child
    # of the desk writes JSON to its parent; a stop during imports has one fixed sentence
    assert sorted(doors) == [
        "__main__.py", "cli/options.py", "desk/child.py", "report/checkers/check.py",
    ]  # fmt: skip
