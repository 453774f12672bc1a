"""What is said after a stop is true: what a job left behind is finished, taken away or named."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_client import served

from fleetstats.desk.jobs import Job, Jobs, _written
from fleetstats.desk.words import words
from fleetstats.report.place import _host


def sleeping(folder: Path, kind: str) -> Jobs:
    """A desk's jobs with one that does nothing for long, in place of the true work."""
    process = subprocess.Popen(
        [sys.executable, "-c", "import time; time.sleep(60)"],
        text=True, start_new_session=os.name != "nt",
    )  # fmt: skip
    return Jobs(folder=folder, current=Job(kind=kind, process=process,
                                           before=_written(folder, kind)))  # fmt: skip


@pytest.fixture
def report(tmp_path: Path) -> Iterator[tuple[Jobs, Path]]:
    jobs = sleeping(tmp_path, "report")
    yield jobs, tmp_path
    jobs.close()


def current(jobs: Jobs) -> Job:
    assert jobs.current is not None
    return jobs.current


def test_a_half_written_stage_of_a_stopped_report_is_swept(report: tuple[Jobs, Path]) -> None:
    jobs, folder = report
    half = folder / f".report-{_host()}-{current(jobs).process.pid}-x"
    half.mkdir()
    (half / "report.html").write_text("half")
    assert jobs.stop() == words("report", "stopped_report")
    assert list(folder.iterdir()) == []
    assert current(jobs).state == "stopped"
    assert jobs.stop() == words("report", "stopped_none")


def test_a_stage_of_a_run_that_goes_on_is_named_and_left(report: tuple[Jobs, Path]) -> None:
    jobs, folder = report
    theirs = folder / f".report-{_host()}-{os.getpid()}-x"
    theirs.mkdir()
    assert jobs.stop() == words("report", "stopped_left", names=theirs.name)
    assert theirs.exists()


def test_a_report_that_was_whole_before_the_stop_is_told_so(report: tuple[Jobs, Path]) -> None:
    jobs, folder = report
    (folder / "report").mkdir()
    (folder / "report" / "manifest.json").write_text("{}")
    assert jobs.stop() == words("report", "stopped_report_whole")


@pytest.mark.parametrize("kind", ["verify", "compare", "bundle"])
def test_a_stop_says_what_was_stopped(tmp_path: Path, kind: str) -> None:
    jobs = sleeping(tmp_path, kind)
    assert jobs.stop() == words("report", f"stopped_{kind}") == current(jobs).told


def test_a_job_that_ended_by_itself_was_not_stopped(tmp_path: Path) -> None:
    process = subprocess.Popen([sys.executable, "-c", ""], text=True)
    process.wait()
    jobs = Jobs(folder=tmp_path, current=Job(kind="report", process=process))
    assert jobs.stop() == words("report", "stopped_none")
    assert current(jobs).state == "running"  # whoever follows it tells its end


def test_a_stop_and_an_end_at_once_give_one_state(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever tells the end waits for whoever stops: no state is told that is then taken back."""
    jobs, told = sleeping(tmp_path, "verify"), []
    following = threading.Thread(target=jobs._follow, args=(current(jobs),))
    look = Jobs._what_is_left

    def slowly(self: Jobs, job: Job) -> str:
        time.sleep(0.3)  # the process is dead by now, and its follower knows
        told.append(job.state)
        return look(self, job)

    monkeypatch.setattr(Jobs, "_what_is_left", slowly)
    following.start()
    jobs.stop()
    following.join(10)
    assert told == ["running"]
    assert (current(jobs).state, current(jobs).told) == (
        "stopped", words("report", "stopped_verify")
    )  # fmt: skip


def test_what_a_refused_job_was_given_goes_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(outside))
    folder = tmp_path / "club"
    folder.mkdir()
    with served(folder) as desk:
        (folder / "study.toml").write_text("[study]\n")
        desk.app.place.jobs.current = sleeping(folder, "report").current
        for path in ("/report/verify", "/years/compare"):
            reply = desk.drop({"b.zip": b"PK"}, path, day="")
            assert (reply.tone, reply.said) == ("wrong", words("report", "one_at_a_time"))
            assert list(outside.iterdir()) == []


def test_a_report_is_old_once_mends_or_serials_are_newer(tmp_path: Path) -> None:
    folder = tmp_path / "club"
    (folder / "report").mkdir(parents=True)
    (folder / "report" / "brief.pdf").write_bytes(b"x")
    (folder / "lives.csv").write_text("engine,exit_hours,ending\nE-1,100,running\n")
    (folder / "built.csv").write_text("serial\nE-1\n")
    (folder / "study.toml").write_text(
        '[study]\ntitle = "t"\nanalysis_date = 2025-12-31\n[fleet]\nserials_file = "built.csv"\n'
        '[[records]]\nfile = "lives.csv"\n'
    )
    now = time.time()
    for path in folder.rglob("*"):
        os.utime(path, (now - 100, now - 100))
    mends = "file,sha256,row,column,old,new,why,role,day\n"
    with served(folder) as desk:
        assert words("report", "old") not in desk.see("/report")
        (folder / "mends.csv").write_text(mends)
        assert words("report", "old") in desk.see("/report")
        (folder / "mends.csv").unlink()
        assert words("report", "old") not in desk.see("/report")
        os.utime(folder / "built.csv", (now, now))
        assert words("report", "old") in desk.see("/report")
        os.utime(folder / "built.csv", (now - 100, now - 100))
        os.utime(folder / "report" / "brief.pdf", (now + 5, now + 5))
        desk.app.place.desk.changed = now + 10  # an act that took a file away leaves no other time
        assert words("report", "old") in desk.see("/report")
