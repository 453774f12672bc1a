"""Hostile bundles: refused or not run, in our words, and nothing of them is left anywhere."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from hostile_bundles import ARCHIVES, INSIDES, LISTS, MEMBERS, Hostile
from hostile_tables import PARQUETS, TEXTS, WORKBOOKS

from fleetstats.cli import main
from fleetstats.core.doors.json_text import load_json
from fleetstats.core.errors import ReportError, SettingError
from fleetstats.report.bundle.pack import write_bundle
from fleetstats.report.bundle.pseudonyms import read_key
from fleetstats.report.bundle.verify import verify_bundle
from fleetstats.study.history import read_history
from fleetstats.study.study import read_study


def named(case: Hostile) -> str:
    return case.name.replace(" ", "-")


@pytest.mark.parametrize("case", [*ARCHIVES, *LISTS], ids=named)
def test_a_hostile_archive_is_refused(case: Hostile, tmp_path: Path) -> None:
    path = tmp_path / "hostile.zip"
    case.write(path)
    with pytest.raises(ReportError) as e:
        verify_bundle(path)
    said = str(e.value)
    assert re.search(case.says, said, re.DOTALL), said
    assert said.isprintable()
    assert len(said) < 500
    if case in ARCHIVES:
        assert "hostile.zip" in said
    assert [p.name for p in tmp_path.iterdir()] == ["hostile.zip"]


@pytest.mark.parametrize("case", INSIDES, ids=named)
def test_a_bundle_with_hostile_members_never_agrees(
    case: Hostile, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "temporary").mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "temporary"))
    if case.name.startswith("results"):  # the study itself is honest and need not be run
        monkeypatch.setattr("fleetstats.report.bundle.verify._run_again", lambda _: None)
    case.write(tmp_path / "hostile.zip")
    found = verify_bundle(tmp_path / "hostile.zip")
    assert found.verdict in ("cannot-run", "altered")
    assert not found.good
    assert re.search(case.says, found.trouble, re.DOTALL), found.trouble
    assert not list((tmp_path / "temporary").iterdir())


@pytest.mark.parametrize(
    "case", [TEXTS[0], TEXTS[2], WORKBOOKS[0], WORKBOOKS[3], PARQUETS[0]],
    ids=lambda c: f"{c.file}-{c.name}".replace(" ", "-"),
)  # fmt: skip
def test_a_bundle_with_a_hostile_table_cannot_be_run(case, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    case.write(tmp_path / case.file)
    told = MEMBERS["study/study.toml"].replace(b"lives.csv", case.file.encode())
    members = {"study/study.toml": told, "report/results.json": b"{}"}
    members[f"study/{case.file}"] = (tmp_path / case.file).read_bytes()
    write_bundle(members, tmp_path / "hostile.zip", name="six", seed=1)
    if case is TEXTS[0]:  # what packs too well is refused with the whole bundle
        with pytest.raises(ReportError, match="limit is 400 times"):
            verify_bundle(tmp_path / "hostile.zip")
    else:
        assert verify_bundle(tmp_path / "hostile.zip").verdict in ("cannot-run", "altered")


def test_there_are_forty_and_more_and_each_has_a_name() -> None:
    from hostile_tables import TABLES

    cases = [*TABLES, *ARCHIVES, *LISTS, *INSIDES]
    assert len(cases) >= 40
    assert len({(type(c), getattr(c, "file", ""), c.name) for c in cases}) == len(cases)


def test_the_verb_refuses_in_one_line_with_exit_code_one(tmp_path: Path) -> None:
    for case in (ARCHIVES[5], INSIDES[5]):
        path = tmp_path / f"{named(case)}.zip"
        case.write(path)
        run = CliRunner().invoke(main, ["verify", str(path), "--quiet"])
        assert run.exit_code == 1, run.output
        assert isinstance(run.exception, SystemExit)
        assert "Traceback" not in run.output
        assert not run.output.startswith(("Agrees", "Unaltered"))
        assert run.output.replace("\n", "").isprintable()


def test_a_study_folder_is_read_from_plain_files_within_it_only(tmp_path: Path) -> None:
    import os

    os.mkfifo(tmp_path / "study.toml")
    with pytest.raises(SettingError, match="a pipe; a regular file is needed"):
        read_study(tmp_path)
    (tmp_path / "study.toml").unlink()
    (tmp_path / "study.toml").write_bytes(MEMBERS["study/study.toml"])
    (tmp_path / "lives.csv").symlink_to("/etc/hostname")
    with pytest.raises(SettingError, match="leads out of the study's folder"):
        read_study(tmp_path)
    (tmp_path / "lives.csv").unlink()
    os.mkfifo(tmp_path / "lives.csv")
    with pytest.raises(SettingError, match="is a pipe, no regular file"):
        read_study(tmp_path)


@pytest.mark.parametrize(
    "line", [b'{"a":' * 900 + b"1" + b"}" * 900, b"[" * 100_000, b'{"n": ' + b"1" * 5_001 + b"}",
             b'{"n": NaN}', b'{"n": 1e999}', b'{"n": "\\udc00"}', b"\xff\xfe{", b"\0" * 99],
)  # fmt: skip
def test_a_hostile_ledger_is_a_flaw_and_no_error(line: bytes, tmp_path: Path) -> None:
    (tmp_path / "history.jsonl").write_bytes(b"{}\n" + line + b"\n")
    ledger = read_history(tmp_path)
    assert ledger.flaws
    assert not ledger.looks


def test_a_key_file_without_end_is_refused(tmp_path: Path) -> None:
    (tmp_path / "key").symlink_to("/dev/zero")
    with pytest.raises(ReportError, match=r"cannot be used .*a device"):
        read_key(tmp_path / "key")
    (tmp_path / "long").write_bytes(b"0" * 70_000)
    with pytest.raises(ReportError, match=r"cannot be used .*limit is 64 kiB"):
        read_key(tmp_path / "long")


def test_honest_json_is_read_as_it_is_written() -> None:
    deep = "[" * 64 + "]" * 64
    for content in ({"a": ['[{"\\', "\\u00e9", 1.5, -3, None, True]}, json.loads(deep)):
        assert load_json(json.dumps(content).encode()) == content
    brackets = json.dumps("[{" * 900 + '\\"').encode()  # those in texts are letters
    assert load_json(brackets) == json.loads(brackets)
