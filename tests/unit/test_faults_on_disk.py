"""A full disk at every write, a kill at every rename: old or new, never half, and it is said.

The system itself refuses the writes (a limit on the size of files, getrlimit(2)); a killed run is
a process of its own that ends by SIGKILL right before or after a rename.
"""

from __future__ import annotations

import os
import resource
import shutil
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner

from fleetstats.cli import main
from fleetstats.core.errors import FleetstatsError
from fleetstats.core.files import write_whole
from fleetstats.demo.fleets import write_demo
from fleetstats.portfolio.family import FamilyRow
from fleetstats.portfolio.store import keep_row
from fleetstats.records.guess.write import begin_from_files
from fleetstats.records.mends.log import write_mends
from fleetstats.records.mends.mend import Mend
from fleetstats.report import place
from fleetstats.report.bundle.pack import _place as place_bundle
from fleetstats.report.bundle.pseudonyms import read_key
from fleetstats.report.json import write_json_text
from fleetstats.study.history import LedgerLook, append_look
from fleetstats.study.scaffold import write_scaffold

LIVES = "engine,exit_hours,ending\nA,100,running\nB,150,failed\n"
STUDY = '[study]\ntitle = "x"\nanalysis_date = 2025-12-31\n[[records]]\nfile = "lives.csv"\n'

Job = Callable[[Path, int], object]


def report(folder: Path, n: int) -> object:
    """Write a small report, by the one function that places reports."""
    files = {"report.html": b"<p>%d</p>" % n * 9, f"figures/{n}.svg": b"<svg/>%d" % n}
    listed = {k: place.hashlib.sha256(v).hexdigest() for k, v in files.items()}
    told = write_json_text({"schema": place.MANIFEST_SCHEMA, "files": listed})
    return place.place_files(files | {place.MANIFEST: told.encode()}, folder / "r")


def report_among_others(folder: Path, n: int) -> object:
    out = report(folder, n)
    if n == 0:
        (folder / "r" / "mine.txt").write_text("a stranger's note", "utf-8")
    return out


def mends(folder: Path, n: int) -> None:
    lines = [
        Mend(file="a.csv", digest="0" * 64, sheet="", row=2 + i, column="hours", act="value",
             old="l00", new="100", why="a letter", by="clerk", when="2026-01-01", number=i + 1)
        for i in range(n + 1)
    ]  # fmt: skip
    write_mends(folder, lines)


def history(folder: Path, n: int) -> None:
    look = LedgerLook(verb="study", date="2026-01-01", data=f"{n:064}", study_file="", chosen={},
                      asked={}, answers={}, verdict="", version="1", report="")  # fmt: skip
    said = append_look(folder, look)
    if said.state not in ("written", "again"):
        raise FleetstatsError(said.sentence)


def begin(folder: Path, n: int) -> None:
    if n:
        write_scaffold(folder / "new")


def begin_from(folder: Path, n: int) -> None:
    if not n:
        (folder / "raw.csv").write_text(LIVES, "utf-8")
    else:
        begin_from_files(folder / "new", [folder / "raw.csv"])


def key(folder: Path, n: int) -> None:
    if n:
        read_key(folder / "own.key")


def demo(folder: Path, n: int) -> None:
    if n:
        write_demo(folder / "demo", quiet_fleet=True)


JOBS: dict[str, Job] = {
    "report": report,
    "report among others": report_among_others,
    "mends": mends,
    "history": history,
    "begin": begin,
    "begin --from files": begin_from,
    "bundle": lambda folder, n: place_bundle(b"bundle %d" % n * 9, folder / "b.zip"),
    "calls, export, workbooks": lambda folder, n: write_whole(folder / "c.csv", f"calls {n}" * 9),
    "kept row": lambda folder, n: keep_row(
        folder, FamilyRow(family="f", slug="f", digest=f"{n:064}", state="done")
    ),
    "key": key,
    "demo": demo,
}


def tree(folder: Path) -> dict[str, bytes]:
    """Return every file but what a killed run left hidden beside its place."""
    return {
        p.relative_to(folder).as_posix(): p.read_bytes()
        for p in sorted(folder.rglob("*"))
        if p.is_file() and not any(x.startswith(".") for x in p.relative_to(folder).parts)
    }


@contextmanager
def full_disk(room: int) -> Iterator[None]:
    """Let the system refuse whatever would make a file larger than so many bytes."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (room, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


@pytest.mark.parametrize("room", [0, 7])
@pytest.mark.parametrize("job", JOBS)
def test_a_full_disk_leaves_all_as_it_was_and_is_said(job: str, room: int, tmp_path: Path) -> None:
    JOBS[job](tmp_path, 0)
    before = tree(tmp_path)
    with full_disk(room), pytest.raises((OSError, FleetstatsError)) as e:
        JOBS[job](tmp_path, 1)
    assert tree(tmp_path) == before
    assert not [p for p in tmp_path.rglob(".*") if p.is_file()]
    said = str(e.value)
    assert "file too large" in said.lower()
    if not job.startswith("report"):  # there the folder is told by `write_report`
        named = ("mends.csv", "history.jsonl", "new", "b.zip", "c.csv", "f.json", "own.key", "demo")
        assert any(name in said.removeprefix(str(tmp_path)) for name in named)
    JOBS[job](tmp_path, 1)  # and with room again nothing is in the way


def kill_at(number: int, job: Job, folder: Path, *, after: bool) -> bool:
    """Run a job in a process that is killed at its n-th rename; False if it has fewer."""
    child = os.fork()
    if child == 0:
        seen = 0

        def deadly(real: Callable[..., object]) -> Callable[..., object]:
            def call(*args: object, **more: object) -> object:
                nonlocal seen
                seen += 1
                if seen == number and not after:
                    os.kill(os.getpid(), signal.SIGKILL)
                out = real(*args, **more)
                if seen == number:
                    os.kill(os.getpid(), signal.SIGKILL)
                return out

            return call

        try:
            for name in ("replace", "rename", "link"):
                setattr(os, name, deadly(getattr(os, name)))
            place._exchange = deadly(place._exchange)  # type: ignore[assignment]
            job(folder, 1)
        finally:
            os._exit(0)
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])


@pytest.mark.skipif(sys.platform == "win32", reason="no fork")
@pytest.mark.parametrize("job", [j for j in JOBS if j != "key"])
def test_a_kill_at_any_rename_leaves_each_file_old_or_new(job: str, tmp_path: Path) -> None:
    run = JOBS[job]
    (tmp_path / "old").mkdir()
    run(tmp_path / "old", 0)
    old = tree(tmp_path / "old")
    shutil.copytree(tmp_path / "old", tmp_path / "new")
    run(tmp_path / "new", 1)
    new = tree(tmp_path / "new")
    kills = 0
    for after in (False, True):
        for number in range(1, 40):
            at = tmp_path / f"{number}-{after}"
            shutil.copytree(tmp_path / "old", at)
            if not kill_at(number, run, at, after=after):
                break
            kills += 1
            got = tree(at)
            for name, data in got.items():
                assert data in (old.get(name), new.get(name)), (number, after, name)
            assert old.keys() & new.keys() <= got.keys()
            if job.startswith("begin"):
                continue  # what is there is never written over; the message names it
            run(at, 1)
            assert tree(at) == new
            if job.startswith("report"):  # what killed runs left is taken away
                assert not list(at.rglob(".*"))
    assert kills >= 2


def test_a_full_disk_is_said_by_the_verbs(tmp_path: Path) -> None:
    (tmp_path / "study.toml").write_text(STUDY, "utf-8")
    (tmp_path / "lives.csv").write_text(LIVES, "utf-8")
    out = tmp_path / "odd.xlsx"
    for verb in (
        ["begin", str(tmp_path / "new")],
        ["check", str(tmp_path), "--out", str(out)],
        ["template", str(tmp_path / "t.xlsx")],
    ):
        with full_disk(0):
            got = CliRunner().invoke(main, verb)
        assert got.exit_code in (1, 2), verb
        assert isinstance(got.exception, SystemExit)
        assert "File too large" in got.stderr
        assert "None" not in got.stderr
    assert sorted(p.name for p in tmp_path.iterdir()) == ["lives.csv", "new", "study.toml"]
    assert not list((tmp_path / "new").iterdir())


def test_a_report_on_a_full_disk_is_said_with_the_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The typesetter's own files are made for a moment: the system names none of them."""
    from fleetstats.cli import Verbs

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Verbs, "resolve_command", refuse)
    got = CliRunner().invoke(main, ["study", str(tmp_path)])
    assert got.exit_code == 1
    assert "No space left on device" in got.stderr
    assert place.tempfile.gettempdir() in got.stderr
