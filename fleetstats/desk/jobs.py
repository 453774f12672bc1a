"""Long work in a process of its own: it tells how far it is, and can be stopped at any moment."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path

from fleetstats.desk.child import BUNDLE_NAME, REPORT_FOLDER
from fleetstats.desk.words import words

LONGEST_S = 3_600.0
"""A job that takes longer than an hour is stopped."""
GRACE_S = 3.0
"""How long a job that is stopped may take to clear up behind itself."""
MOST_TOLD = 64_000
"""Characters of what a job tells; a comparison of two years takes some thousands."""


@dataclass(slots=True)
class Job:
    """One job: `state` is ``running``, ``done``, ``failed`` or ``stopped``.

    `before` tells which report or bundle lay in its place when it began.
    """

    kind: str
    process: subprocess.Popen[str]
    state: str = "running"
    stage: str = ""
    told: str = ""
    begun: float = field(default_factory=time.monotonic)
    seconds: float = 0.0
    before: tuple[int, ...] = ()

    def to_dict(self) -> dict[str, object]:
        """Return how far it is, for the page."""
        took = time.monotonic() - self.begun if self.state == "running" else self.seconds
        return {"kind": self.kind, "state": self.state, "stage": self.stage, "told": self.told,
                "seconds": round(took, 1)}  # fmt: skip


@dataclass(slots=True)
class Jobs:
    """The one job of a desk at a time.

    `leavings` are what the last job was given; it goes with the next, or when the desk is closed.
    """

    folder: Path
    current: Job | None = None
    leavings: list[Path] = field(default_factory=list)
    lock: threading.RLock = field(default_factory=threading.RLock)

    def start(self, kind: str, *arguments: str, given: Path | None = None) -> bool:
        """Begin a job; False where one is running.

        The process is this interpreter with a module of ours. It does not look for modules in the
        folder that it works in (``-P``), so nothing among the records can be taken for one.

        Parameters
        ----------
        kind, *arguments : str
            A key of `desk.child.WORK`, and the places that it is told.
        given : Path, optional
            A file or folder made for this job alone: it goes at once where the job cannot begin,
            else with the next job or when the desk is closed.
        """
        with self.lock:
            if self.current is not None and self.current.state == "running":
                if given is not None:
                    _take_away(given)
                return False
            self._clear()
            if given is not None:
                self.leavings.append(given)
            before = _written(self.folder, kind)
            process = subprocess.Popen(
                [sys.executable, "-P", "-m", "fleetstats.desk.child", kind, *arguments],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                text=True,
                encoding="utf-8",
                cwd=tempfile.gettempdir(),
                start_new_session=os.name != "nt",
            )
            job = Job(kind=kind, process=process, stage=words("report", "starting"), before=before)
            self.current = job
            threading.Thread(target=self._follow, args=(job,), daemon=True).start()
            timer = threading.Timer(LONGEST_S, self._end, (job,))
            timer.daemon = True
            timer.start()
            return True

    def stop(self) -> str:
        """Stop the job that is running, if one is; return what became of it, as a sentence."""
        with self.lock:
            job = self.current
            if job is None or not self._end(job):
                return words("report", "stopped_none")
            return job.told

    def close(self) -> None:
        """Stop what runs, and take away what jobs were given."""
        self.stop()
        self._clear()

    def _clear(self) -> None:
        while self.leavings:
            _take_away(self.leavings.pop())

    def _end(self, job: Job) -> bool:
        """End a job and look at what it left; False where it had ended by itself."""
        with self.lock:
            if job.state != "running":
                return False
            _signal(job.process, hard=False)
            try:
                job.process.wait(GRACE_S)
            except subprocess.TimeoutExpired:
                _signal(job.process, hard=True)
                job.process.wait()
            if job.process.returncode == 0:
                return False  # it came to its end meanwhile, which `_follow` tells
            job.seconds = time.monotonic() - job.begun
            job.told = self._what_is_left(job)
            job.state = "stopped"
            return True

    def _what_is_left(self, job: Job) -> str:
        """Finish or remove what a job that was stopped left behind; return the sentence for it."""
        from fleetstats.report.place import sweep

        if job.kind == "report":
            try:
                left = sweep(self.folder / REPORT_FOLDER)
            except OSError as error:
                return words("report", "stopped_unswept", why=error.strerror or error)
        else:
            left = [p.name for p in self.folder.glob(f".{BUNDLE_NAME}-*")]
        if left and job.kind in ("report", "bundle"):
            return words("report", "stopped_left", names=", ".join(sorted(left)))
        whole = "_whole" if _written(self.folder, job.kind) != job.before else ""
        return words("report", f"stopped_{job.kind}{whole}")

    def _follow(self, job: Job) -> None:
        """Read what a job tells, line by line, until it ends."""
        told = "failed", words("report", "broke_off")
        out = job.process.stdout
        if out is not None:
            with out:
                for line in out:
                    try:
                        said = json.loads(line)
                    except ValueError:
                        continue
                    if "stage" in said:
                        job.stage = str(said["stage"])[:200]
                    elif "state" in said:
                        told = str(said["state"]), _shortened(str(said.get("told", "")))
        job.process.wait()
        with self.lock:
            if job.state == "running":
                job.seconds = time.monotonic() - job.begun
                job.told = told[1]
                job.state = told[0]


def _shortened(told: str) -> str:
    if len(told) <= MOST_TOLD:
        return told
    return f"{told[:MOST_TOLD]}\n{words('report', 'told_cut', n=MOST_TOLD)}"


def _take_away(path: Path) -> None:
    """Remove a file or a folder that a job was given."""
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path, ignore_errors=True)
    else:
        path.unlink(missing_ok=True)


def _written(folder: Path, kind: str) -> tuple[int, ...]:
    """Return what tells one writing of a job's work from the next; empty where there is none."""
    from fleetstats.report.place import MANIFEST

    made = {"report": (REPORT_FOLDER, MANIFEST), "bundle": (BUNDLE_NAME,)}.get(kind)
    if made is None:
        return ()
    try:
        told = folder.joinpath(*made).stat()
    except OSError:
        return ()
    return told.st_ino, told.st_mtime_ns, told.st_size


def _signal(process: subprocess.Popen[str], *, hard: bool) -> None:
    """End a job with the processes that it started."""
    if os.name == "nt":
        process.kill() if hard else process.terminate()
        return
    try:
        os.killpg(process.pid, signal.SIGKILL if hard else signal.SIGTERM)
    except ProcessLookupError:
        return
