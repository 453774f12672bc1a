"""However a bundle is tampered with, nobody is told that it agrees.

A small invented study is bundled once and run for real; every case of `cases_tampering` is then
verified, once with nothing to hold it against and once against the honest digest.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from cases_tampering import CLAIMS, FACES, INPUTS, LIST, MEMBERS, PAGE, PAPER, ZIP, elsewhere, swap
from click.testing import CliRunner
from tampered import Bundle, Tampering, make_honest

from fleetstats.cli import main
from fleetstats.core.errors import FleetstatsError
from fleetstats.report.bundle import verify as verify_module
from fleetstats.report.bundle.faces import manifest_holds
from fleetstats.report.bundle.likeness import same_text
from fleetstats.report.bundle.unpack import unpack_bundle
from fleetstats.report.bundle.verify import verify_bundle

BY_BYTES = (*INPUTS, *FACES, *MEMBERS, *ZIP)
"""Tampering in a like environment: the word is "altered", or nothing could be run or read."""
CASES = (*BY_BYTES, *LIST, *CLAIMS)


@pytest.fixture(scope="module")
def honest(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_honest(tmp_path_factory.mktemp("honest"))


@pytest.fixture(scope="module", autouse=True)
def runs_once() -> Iterator[None]:
    """Keep what a study gave: the same inputs need not be run again for every case."""
    real, kept = verify_module.report_members, {}

    def run(study, name, *, versions=None):
        inputs = tuple(verify_module.study_members(study).items())
        key = (inputs, name, tuple((versions or {}).items()))
        if key not in kept:
            kept[key] = real(study, name, versions=versions)
        return kept[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(verify_module, "report_members", run)
        yield


def verdict(path: Path, expect: str | None = None) -> str:
    try:
        found = verify_bundle(path, expect=expect)
    except FleetstatsError:
        return "refused"
    told = str(found)
    assert all(line.isprintable() for line in told.split("\n"))
    assert found.good == (found.verdict in ("agrees", "unaltered"))
    assert told.startswith(("Agrees", "Unaltered")) == found.good
    return found.verdict


def test_there_are_enough_cases_and_each_has_a_name() -> None:
    assert len(CASES) >= 60
    assert len({c.name for c in CASES}) == len(CASES)


def test_the_honest_bundle_agrees_and_only_its_digest_makes_it_unaltered(honest: Path) -> None:
    assert verdict(honest) == "agrees"
    bundle = unpack_bundle(honest)
    assert verdict(honest, bundle.digest) == "unaltered"
    assert verdict(honest, "0" * 64) == "altered"
    assert manifest_holds(bundle.members)
    found = verify_bundle(honest)
    assert "nothing outside vouches" in str(found)
    assert "report/brief.pdf" in bundle.members
    digest = hashlib.sha256(bundle.members["report/results.json"]).hexdigest()
    assert digest in bundle.members["report/report.html"].decode()  # beside the signature
    assert found.figures_digest == digest
    assert digest in str(found)


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.name.replace(" ", "-"))
def test_no_tampered_bundle_agrees(case: Tampering, honest: Path, tmp_path: Path) -> None:
    path = case.make(honest, tmp_path / "b.zip")
    words = ("altered", "cannot-run", "refused")
    assert verdict(path) in (words if case in BY_BYTES else (*words, "differs", "in-part"))
    assert verdict(path, unpack_bundle(honest).digest) not in ("agrees", "unaltered")


def test_a_tampered_face_is_named_and_ends_with_one(honest: Path, tmp_path: Path) -> None:
    path = next(c for c in FACES if c.name == "another paper").make(honest, tmp_path / "b.zip")
    assert verify_bundle(path).faces_altered == ("manifest.json", "report.pdf")
    run = CliRunner().invoke(main, ["verify", str(path), "--quiet"])
    assert run.exit_code == 1
    assert run.output.startswith("ALTERED")
    assert "report.pdf" in run.output
    assert CliRunner().invoke(main, ["verify", str(honest), "--quiet"]).exit_code == 0


def test_from_elsewhere_words_and_paper_are_judged(honest: Path, tmp_path: Path) -> None:
    """A bundle of another processor: its page and its paper are still held against a new run."""
    page = Tampering(name="x", change=elsewhere(swap(PAGE, "too few", "enough")))
    paper = Tampering(
        name="x", change=elsewhere(lambda b: b.members.update({PAPER: b"%PDF another"}))
    )
    for case, name in ((page, "report.html"), (paper, "report.pdf")):
        found = verify_bundle(case.make(honest, tmp_path / "a.zip"))
        assert (found.verdict, found.faces_altered) == ("altered", (name,))


def test_what_is_missing_or_there_twice_is_not_called_the_same(
    honest: Path, tmp_path: Path
) -> None:
    cases = (*(c for c in MEMBERS if c.name == "no report.html"), ZIP[0])
    assert len(cases) == 2
    for case in cases:
        found = verify_bundle(case.make(honest, tmp_path / "b.zip"))
        assert found.verdict == "altered"
        assert "the same to the byte" not in str(found)


def test_an_honest_bundle_of_other_versions_still_agrees(honest: Path, tmp_path: Path) -> None:
    """Made here as though with another library version: it is printed in the report as told."""
    from fleetstats.report.bundle.environment import told_versions
    from fleetstats.report.bundle.pack import report_members
    from fleetstats.study.study import read_study

    b = Bundle.read(honest)
    b.listed["environment"]["pandas"] = "2.2.9"
    folder = tmp_path / b.listed["name"]
    folder.mkdir()
    for n in ("study.toml", "lives.csv"):
        (folder / n).write_bytes(b.members[f"study/{n}"])
    versions = told_versions(b.listed["environment"])
    report = report_members(read_study(folder), b.listed["name"], versions=versions)[1]
    b.members |= {f"report/{k}": v for k, v in report.items()}
    b.list_again()
    (tmp_path / "b.zip").write_bytes(b.pack())
    found = verify_bundle(tmp_path / "b.zip")
    assert (found.verdict, found.faces_equal) == ("agrees", True)
    assert "pandas 2.2.9 in the bundle" in str(found)


@pytest.mark.parametrize(
    ("before", "now", "same"),
    [
        ("a 1.00000001 b", "a 1.00000002 b", True),
        ("a 1.01 b", "a 1.02 b", False),
        ("a 10000001 b", "a 10000002 b", False),  # counts have no last digits
        ("x12345678.1a", "x12345678.2a", False),  # part of a name or digest
        ("a 1.5 b", "a 1.5 c", False),
        ("1.5", "1.5 1.5", False),
    ],
)
def test_texts_are_the_same_but_for_the_last_digits(before: str, now: str, same: bool) -> None:
    assert same_text(before, now, tolerance=1e-6) is same
