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
from fleetstats.report import place, write
from fleetstats.report.place import MANIFEST, STAGE, check_place, place_files
from fleetstats.report.write import render_files, write_report


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
    place_files(bundle(b="1"), folder)
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

    monkeypatch.setattr(place.os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        place_files(bundle(a="9", b="9"), folder)
    assert (folder / "a").read_text() == "1"
    assert inside(tmp_path) == ["r"]


def test_an_interrupt_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(place, "_take_place", stop)
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

    monkeypatch.setattr(place.tempfile, "mkdtemp", refuse)
    with pytest.raises(ReportError, match=r"cannot be written to .*Permission denied"):
        write_report(make_document(), None, tmp_path / "r")


@pytest.mark.parametrize("locks", [True, False])
def test_runs_at_the_same_time_do_not_mix(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, locks: bool
) -> None:
    folder = tmp_path / "r"
    if not locks:  # as on a system without them
        monkeypatch.setattr(place, "alone_in", lambda _: contextlib.nullcontext())
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


def test_the_current_folder_a_study_and_a_stranger_s_folder_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for name in (Path(), tmp_path, Path("..") / tmp_path.name):
        with pytest.raises(ReportError, match="current folder"):
            place_files(bundle(a="1"), name)
    (tmp_path / "club").mkdir()
    (tmp_path / "club" / "study.toml").write_text("")
    with pytest.raises(ReportError, match=r"a study's folder: it holds study\.toml"):
        place_files(bundle(a="1"), tmp_path / "club")
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "one.jpg").write_text("")
    with pytest.raises(ReportError, match=r"did not write \('one\.jpg'\)"):
        place_files(bundle(a="1"), tmp_path / "photos")
    assert inside(tmp_path) == ["club", "photos"]
    (tmp_path / "empty").mkdir(mode=0o750)
    (tmp_path / "empty" / ".DS_Store").write_text("")
    before = (tmp_path / "empty").stat()
    assert check_place(tmp_path / "empty") == tmp_path / "empty"
    place_files(bundle(a="1"), tmp_path / "empty")
    after = (tmp_path / "empty").stat()
    assert (before.st_ino, before.st_mode) == (after.st_ino, after.st_mode)


def test_nothing_of_the_user_s_is_moved(tmp_path: Path) -> None:
    folder = tmp_path / "r"
    place_files(bundle(a="1", figures__x="1", tables__old="1"), folder)
    (folder / "mine").mkdir(mode=0o700)
    (folder / "empty").mkdir()
    (folder / "mine" / "letter").write_text("dear club")
    (folder / "mine" / "letter").chmod(0o400)
    os.link(folder / "mine" / "letter", tmp_path / "twin")
    (folder / "figures" / "link").symlink_to(tmp_path / "twin")
    os.mkfifo(folder / "pipe")
    mine = ["mine", "empty", "mine/letter", "figures/link", "pipe"]
    before = [os.lstat(folder / n) for n in mine]
    here = folder.stat().st_ino
    place_files(bundle(a="2", figures__x="2"), folder)
    after = [os.lstat(folder / n) for n in mine]
    for old, new in zip(before, after, strict=True):
        same = ("st_ino", "st_mode", "st_uid", "st_nlink", "st_mtime_ns")
        assert [getattr(old, k) for k in same] == [getattr(new, k) for k in same]
    assert folder.stat().st_ino == here
    assert (folder / "figures" / "x").read_text() == "2"
    assert not (folder / "tables").exists()
    assert inside(tmp_path) == ["r", "twin"]


def test_a_folder_of_ours_alone_is_exchanged_in_one_step(tmp_path: Path) -> None:
    folder = tmp_path / "r"
    place_files(bundle(a="1", sub__b="1"), folder)
    folder.chmod(0o750)
    before = folder.stat()
    place_files(bundle(a="2"), folder)
    assert names(folder) == {"a", MANIFEST}
    assert folder.stat().st_mode == before.st_mode
    assert folder.stat().st_ino != before.st_ino or not place._exchange(folder, folder)


def test_a_link_inside_the_folder_leads_no_file_out_of_it(tmp_path: Path) -> None:
    folder = tmp_path / "r"
    place_files(bundle(a="1"), folder)
    (tmp_path / "elsewhere").mkdir()
    (folder / "sub").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(ReportError, match="a link or folder on the way to 'sub/b'"):
        place_files(bundle(a="1", sub__b="1"), folder)
    assert inside(tmp_path / "elsewhere") == []


def test_a_manifest_that_names_files_elsewhere_removes_none(tmp_path: Path) -> None:
    folder = tmp_path / "r"
    place_files(bundle(a="1"), folder)
    (tmp_path / "precious").write_text("x")
    digest = hashlib.sha256(b"x").hexdigest()
    listed = {"a": "", "../precious": digest, str(tmp_path / "precious"): digest}
    text = json.dumps({"schema": "fleetstats/manifest/1", "files": listed})
    (folder / MANIFEST).write_text(text)
    place_files(bundle(a="2"), folder)
    assert (tmp_path / "precious").read_text() == "x"


@pytest.mark.parametrize("others", [False, True])
@pytest.mark.parametrize("step", range(1, 14))
def test_a_run_killed_at_any_step_leaves_one_report_to_the_next(
    tmp_path: Path, others: bool, step: int
) -> None:
    """The process ends by itself at the n-th sync, rename or removal, without any clearing up."""
    folder = tmp_path / "r"
    place_files(bundle(a="1", b="1", old="1"), folder)
    if others:
        (folder / "notes").write_text("mine")
    child = os.fork()
    if child == 0:
        count = 0

        def counted(real):  # type: ignore[no-untyped-def]
            def call(*args, **kwargs):  # type: ignore[no-untyped-def]
                nonlocal count
                count += 1
                if count == step:
                    os._exit(9)
                return real(*args, **kwargs)

            return call

        place.os.fsync = counted(os.fsync)
        Path.rename = counted(Path.rename)  # type: ignore[method-assign]
        Path.replace = counted(Path.replace)  # type: ignore[method-assign]
        place._exchange = counted(place._exchange)
        place_files(bundle(a="2", b="2", c="2"), folder)
        os._exit(0)
    os.waitpid(child, 0)
    place_files(bundle(a="3", b="3"), folder)
    assert {n: (folder / n).read_text() for n in ("a", "b")} == {"a": "3", "b": "3"}
    mine = {"notes"} if others else set()
    assert names(folder) == {"a", "b", MANIFEST} | mine
    assert inside(tmp_path) == ["r"]
    assert not list(folder.glob(f"{STAGE}*"))
