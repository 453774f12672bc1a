"""Writing a report: all or nothing, ours replaced, others' kept, runs apart."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import threading
from pathlib import Path

import pytest
from report_document import make_document

from fleetstats.core.errors import ReportError
from fleetstats.report import write
from fleetstats.report.write import MANIFEST, place_files, render_files, write_report


def bundle(**files: str) -> dict[str, bytes]:
    out = {k.replace("__", "/"): v.encode() for k, v in files.items()}
    listed = {k: hashlib.sha256(v).hexdigest() for k, v in out.items()}
    text = json.dumps({"schema": "fleetstats/manifest/1", "files": listed})
    return out | {MANIFEST: text.encode()}


def inside(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def names(folder: Path) -> set[str]:
    return {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}


def test_a_whole_report_is_written_and_its_manifest_holds(tmp_path: Path) -> None:
    page = write_report(make_document(), None, tmp_path / "out" / "fleet")
    assert page.name == "report.html"
    folder = page.parent
    listed = json.loads((folder / MANIFEST).read_text())["files"]
    assert set(listed) | {MANIFEST} == names(folder)
    for name, digest in listed.items():
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest
    assert {"report.html", "report.pdf", "report.json", "tables.xlsx", "figures/survival.svg",
            "figures/survival.png", "tables/engines.csv"} <= set(listed)  # fmt: skip
    assert inside(tmp_path / "out") == ["fleet"]
    # the same report gives the same files, to the byte
    again = render_files(make_document(), None)
    assert again == {name: (folder / name).read_bytes() for name in again}


def test_stale_files_of_ours_go_and_files_of_others_stay(tmp_path: Path) -> None:
    folder = tmp_path / "r"
    place_files(bundle(a="1", sub__old="2"), folder)
    (folder / "notes.txt").write_text("mine")
    (folder / "sub" / "own.csv").write_text("mine too")
    place_files(bundle(a="3"), folder)
    assert names(folder) == {"a", MANIFEST, "notes.txt", "sub/own.csv"}
    assert (folder / "a").read_text() == "3"


def test_a_stale_file_that_someone_changed_is_kept(tmp_path: Path) -> None:
    folder = tmp_path / "r"
    place_files(bundle(a="1", old="2"), folder)
    (folder / "old").write_text("changed by hand")
    place_files(bundle(a="1"), folder)
    assert (folder / "old").read_text() == "changed by hand"


def test_a_file_of_another_s_is_never_overwritten(tmp_path: Path) -> None:
    folder = tmp_path / "r"
    folder.mkdir()
    (folder / "a").write_text("theirs")
    with pytest.raises(ReportError, match="'a' that this program did not write"):
        place_files(bundle(a="1"), folder)
    assert (folder / "a").read_text() == "theirs"
    assert inside(tmp_path) == ["r"]


def test_a_foreign_manifest_gives_no_right_to_anything(tmp_path: Path) -> None:
    folder = tmp_path / "r"
    folder.mkdir()
    (folder / MANIFEST).write_text('{"files": {"a": "x"}}')
    (folder / "a").write_text("theirs")
    with pytest.raises(ReportError, match="did not write"):
        place_files(bundle(a="1"), folder)


def test_a_failure_on_the_way_leaves_the_old_report_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "r"
    place_files(bundle(a="1", b="2"), folder)
    real, calls = os.fsync, 0

    def full(handle: int) -> None:
        nonlocal calls
        calls += 1
        if calls == 2:
            raise OSError(28, "No space left on device")
        real(handle)

    monkeypatch.setattr(write.os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        place_files(bundle(a="9", b="9"), folder)
    assert (folder / "a").read_text() == "1"
    assert inside(tmp_path) == ["r"]


def test_an_interrupt_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(write, "_swap", stop)
    with pytest.raises(KeyboardInterrupt):
        place_files(bundle(a="1"), tmp_path / "r")
    assert inside(tmp_path) == []


def test_a_file_in_the_folder_s_place_is_refused(tmp_path: Path) -> None:
    (tmp_path / "r").write_text("x")
    with pytest.raises(ReportError, match="is a file"):
        place_files(bundle(a="1"), tmp_path / "r")


def test_a_disk_that_refuses_is_told_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(write, "render_files", lambda *_: bundle(a="1"))

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(write.tempfile, "mkdtemp", refuse)
    with pytest.raises(ReportError, match=r"cannot be written to .*Permission denied"):
        write_report(make_document(), None, tmp_path / "r")


@pytest.mark.parametrize("locks", [True, False])
def test_runs_at_the_same_time_do_not_mix(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, locks: bool
) -> None:
    folder = tmp_path / "r"
    if not locks:  # as on a system without them
        monkeypatch.setattr(write, "alone_in", lambda _: contextlib.nullcontext())
        monkeypatch.setattr(write, "_keep_others", lambda *_: None)
    else:
        place_files(bundle(f0="none"), folder)
        (folder / "notes.txt").write_text("mine")
    errors: list[BaseException] = []

    def run(word: str) -> None:
        try:
            for _ in range(8):
                place_files(bundle(**{f"f{i}": word for i in range(6)}), folder)
        except BaseException as error:  # a thread must not die in silence
            errors.append(error)

    threads = [threading.Thread(target=run, args=(w,)) for w in ("one", "two", "three")]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert not errors
    assert len({(folder / f"f{i}").read_text() for i in range(6)}) == 1
    assert not locks or (folder / "notes.txt").read_text() == "mine"
    assert inside(tmp_path) == ["r"]
