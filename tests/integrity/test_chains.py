"""A declaration and a ledger of looks in a bundle: checked, and told on the report's first page.

The forger of these tests writes the bundle's list anew, so that only the chains betray him.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner
from tampered import LIVES, STUDY, Bundle

from fleetstats.chapters.compose import compose_report
from fleetstats.chapters.weakest.gaps import list_gaps
from fleetstats.cli import main
from fleetstats.report.bundle import verify as verify_module
from fleetstats.report.bundle.pack import study_members, write_bundle
from fleetstats.report.bundle.verify import verify_bundle
from fleetstats.studies.analyse import analyse
from fleetstats.study.declared import declare_study
from fleetstats.study.history import LedgerLook, append_look
from fleetstats.study.study import read_study

DECLARED, LEDGER = "study/declared.json", "study/history.jsonl"


def lay_out(place: Path, *, looks: int = 3) -> Path:
    """Return a study that was declared twice, with looks before its second declaration."""
    folder = place / "six-lives"
    folder.mkdir()
    claim = STUDY.replace("seed = 11", "seed = 11\nclaimed_interval_h = 300")
    (folder / "study.toml").write_text(claim, encoding="utf-8")
    declare_study(read_study(folder, drawn=False), dt.date(2026, 1, 5))
    (folder / "lives.csv").write_text(LIVES, encoding="utf-8")
    for k in range(looks):
        told = LedgerLook(verb="study", date="2026-09-30", data=f"{k}", answers={"failed": 2.0})
        append_look(folder, told, today=dt.date(2026, 10, 1))
    text = claim.replace("= 300", "= 250")
    (folder / "study.toml").write_text(text, encoding="utf-8")
    declare_study(read_study(folder), dt.date(2026, 10, 2))
    return folder


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return lay_out(tmp_path_factory.mktemp("declared"))


@pytest.fixture(scope="module")
def bundle(folder: Path, tmp_path_factory: pytest.TempPathFactory):
    """A bundle whose report is stood in for by a few words."""

    def run(study, name, *, versions=None):
        return None, {"results.json": json.dumps({"n": len(study.files)}).encode()}

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(verify_module, "report_members", run)
        study = read_study(folder)
        members = {f"study/{k}": v for k, v in study_members(study).items()}
        members["report/results.json"] = run(study, "six-lives")[1]["results.json"]
        out = tmp_path_factory.mktemp("bundle") / "six-lives.zip"
        write_bundle(members, out, name="six-lives", seed=11)
        yield out


def test_both_chains_are_members_and_whole(bundle: Path) -> None:
    assert {DECLARED, LEDGER} <= set(Bundle.read(bundle).members)
    assert verify_bundle(bundle).verdict == "agrees"


def _out(name: str, k: int) -> Callable[[Bundle], object]:
    def do(b: Bundle) -> None:
        lines = b.members[name].splitlines(keepends=True)
        b.members[name] = b"".join(lines[:k] + lines[k + 1 :])

    return do


def _last_version_out(b: Bundle) -> None:
    content = json.loads(b.members[DECLARED])
    content["versions"].pop()
    b.members[DECLARED] = (json.dumps(content, indent=1, ensure_ascii=False) + "\n").encode()


BROKEN: dict[str, tuple[Callable[[Bundle], object], str]] = {
    "a declared value": (lambda b: b.swap(DECLARED, "300.0", "250.0"),
                         "declared.json, version 1: it was changed after it was written"),
    "a declared day": (lambda b: b.swap(DECLARED, '"2026-10-02"', '"2026-01-06"'),
                       "declared.json, version 2: it was changed after it was written"),
    "the last version": (_last_version_out, "declared.json: it ends with version 1"),
    "no chain": (lambda b: b.members.update({DECLARED: b"{}\n"}), "declared.json: its schema"),
    "a look's answer": (lambda b: b.swap(LEDGER, '"failed":2.0', '"failed":1.0'),
                        "history.jsonl: Look 1 was changed after it was written"),
    "a look out": (_out(LEDGER, 2), "history.jsonl: Look 2 is missing"),
    "the last look": (_out(LEDGER, 3), "history.jsonl: Look 3 is missing"),
    "two looks": (lambda b: (_out(LEDGER, 3)(b), _out(LEDGER, 2)(b)),
                  "history.jsonl: Looks 2 and 3 are missing"),
    "no ledger": (lambda b: b.members.update({LEDGER: b"not a look\n"}),
                  "history.jsonl: Line 1 below the first cannot be read as a look"),
}  # fmt: skip


@pytest.mark.parametrize("case", BROKEN)
def test_a_broken_chain_is_altered_and_its_place_is_named(
    case: str, bundle: Path, tmp_path: Path
) -> None:
    change, place = BROKEN[case]
    b = Bundle.read(bundle)
    change(b)
    b.list_again()
    (tmp_path / "b.zip").write_bytes(b.pack())
    found = verify_bundle(tmp_path / "b.zip")
    assert (found.verdict, found.altered) == ("altered", ())
    assert place in str(found)


def test_a_ledger_that_tells_of_earlier_flaws_itself_is_no_broken_bundle(
    bundle: Path, tmp_path: Path
) -> None:
    b = Bundle.read(bundle)
    (tmp_path / "history.jsonl").write_bytes(
        b.members[LEDGER].replace(b'"failed":2.0', b'"failed":1.0', 1)
    )
    look = LedgerLook(verb="study", date="2026-09-30", data="more")
    assert "Look 1 was changed" in append_look(tmp_path, look).sentence
    data = (tmp_path / "history.jsonl").read_bytes()
    (tmp_path / "history.jsonl").write_bytes(data.replace(b'"failed":1.0', b'"failed":2.0'))
    b.members[LEDGER] = (tmp_path / "history.jsonl").read_bytes()
    assert b"flaws" in b.members[LEDGER]
    b.list_again()
    (tmp_path / "b.zip").write_bytes(b.pack())
    assert verify_bundle(tmp_path / "b.zip").verdict == "agrees"


def test_the_report_says_what_was_declared_and_what_was_changed(folder: Path) -> None:
    results = analyse(read_study(folder))
    line = (
        "The question was declared on 2026-01-05, before any look at these records was written "
        "down; changed since, and able to turn the verdict: study.claimed_interval_h (declared "
        "300, now 250)."
    )
    document = compose_report(results)
    assert document.chosen[0] == line
    assert line in results.answer_lines()
    assert "declared" in [s.key for s in document.sections]
    (one,) = [c for c in document.cautions if c.code == "declared-changed"]
    assert one.proviso == "1 setting is not as declared on 2026-01-05"
    assert one.proviso in document.provisos or document.verdict != "supported"
    assert "declared" not in {g.key for g in list_gaps(results)}
    told = {k: v for k, v in results.chapters.items() if k != "declared"}
    (gap,) = [g for g in list_gaps(dataclasses.replace(results, chapters=told))
              if g.key == "declared"]  # fmt: skip
    assert gap.sentence == "The question was not declared before the records were seen."


def test_verbs_stop_at_a_broken_declaration_and_name_the_place(
    folder: Path, tmp_path: Path
) -> None:
    other = tmp_path / "six-lives"
    shutil.copytree(folder, other)
    path = other / "declared.json"
    path.write_bytes(path.read_bytes().replace(b"300.0", b"250.0"))
    for verb in (["claim", str(other), "--hours", "250"], ["declare", str(other)],
                 ["compare", str(folder), str(other)]):  # fmt: skip
        run = CliRunner().invoke(main, verb, env={"FLEETSTATS_NO_HISTORY": "1"})
        assert run.exit_code == 2, (verb, run.output)
        assert "declared.json, version 1: it was changed after it was written" in run.output


def test_a_comparison_says_how_both_stand_to_what_they_declared(
    folder: Path, tmp_path: Path
) -> None:
    later = tmp_path / "later"
    shutil.copytree(folder, later)
    (later / "declared.json").unlink()
    run = CliRunner().invoke(main, ["compare", str(folder), str(later), "--quiet"])
    assert "Earlier study: The question was declared on 2026-01-05, before any look" in run.output
    assert "Later study: The question was not declared before the records were" in run.output


def test_a_supported_claim_carries_what_was_changed_in_its_own_sentence(tmp_path: Path) -> None:
    """Sixty invented engines ran to 1,500 h and none failed: at most 10 % fail by 300 h."""
    folder = tmp_path / "quiet"
    folder.mkdir()
    text = STUDY.replace("seed = 11", "seed = 11\nclaimed_interval_h = 400")
    (folder / "study.toml").write_text(text, encoding="utf-8")
    rows = "".join(f"E-{k},0,1500,running,,2026-09-01\n" for k in range(60))
    head = LIVES.split("\n", maxsplit=1)[0]
    declare_study(read_study(folder, drawn=False), dt.date(2026, 1, 5))
    (folder / "lives.csv").write_text(f"{head}\n{rows}", encoding="utf-8")
    said = {}
    for hours in ("400", "300"):
        words = ["claim", str(folder), "--hours", hours, "--no-history"]
        said[hours] = CliRunner().invoke(main, words).output
    assert "not as declared" not in said["400"]
    assert "1 setting is not as declared on 2026-01-05" in said["300"].split("Caution")[0]
    assert "study.claimed_interval_h (declared 400, now 300)" in said["300"]


def test_bundling_a_broken_ledger_says_what_verify_will_say(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = tmp_path / "six-lives"
    shutil.copytree(folder, other)
    path = other / "history.jsonl"
    path.write_bytes(path.read_bytes().replace(b'"failed":2.0', b'"failed":1.0', 1))
    files = {"results.json": b"{}"}
    monkeypatch.setattr(
        "fleetstats.report.bundle.pack.report_members", lambda study, name: (None, files)
    )
    run = CliRunner().invoke(main, ["bundle", str(other), "--out", str(tmp_path / "b.zip")])
    assert run.exit_code == 0
    assert "'verify' will call this bundle altered." in run.output
    assert "history.jsonl: Look 1 was changed after it was written" in run.output
