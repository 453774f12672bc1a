"""Long work in a process of its own: it tells how far it is, and can be stopped at any moment."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path

from fleetstats.desk.words import words

LONGEST_S = 3_600.0
"""A job that takes longer than an hour is stopped."""
GRACE_S = 3.0
"""How long a job that is stopped may take to clear up behind itself."""
MOST_TOLD = 4_000


@dataclass(slots=True)
class Job:
    """One job: `state` is ``running``, ``done``, ``failed`` or ``stopped``."""

    kind: str
    process: subprocess.Popen[str]
    state: str = "running"
    stage: str = ""
    told: str = ""
    begun: float = field(default_factory=time.monotonic)
    seconds: float = 0.0

    def to_dict(self) -> dict[str, object]:
        """Return how far it is, for the page."""
        took = time.monotonic() - self.begun if self.state == "running" else self.seconds
        return {"kind": self.kind, "state": self.state, "stage": self.stage, "told": self.told,
                "seconds": round(took, 1)}  # fmt: skip


@dataclass(slots=True)
class Jobs:
    """The one job of a desk at a time.

    `leavings` are files that jobs were given and that go when the desk is closed.
    """

    folder: Path
    current: Job | None = None
    leavings: list[Path] = field(default_factory=list)
    lock: threading.RLock = field(default_factory=threading.RLock)

    def start(self, kind: str, *arguments: str) -> bool:
        """Begin a job; False where one is running.

        The process is this interpreter with a module of ours. It does not look for modules in the
        folder that it works in (``-P``), so nothing among the records can be taken for one.
        """
        with self.lock:
            if self.current is not None and self.current.state == "running":
                return False
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
            self.current = Job(kind=kind, process=process, stage=words("report", "starting"))
            threading.Thread(target=self._follow, args=(self.current,), daemon=True).start()
            timer = threading.Timer(LONGEST_S, self._end, (self.current,))
            timer.daemon = True
            timer.start()
            return True

    def stop(self) -> None:
        """Stop the job that is running, if one is."""
        with self.lock:
            job = self.current
        if job is not None:
            self._end(job)

    def close(self) -> None:
        """Stop what runs, and take away what jobs were given."""
        self.stop()
        for path in self.leavings:
            path.unlink(missing_ok=True)

    def _end(self, job: Job) -> None:
        if job.state != "running":
            return
        job.state, job.seconds = "stopped", time.monotonic() - job.begun
        _signal(job.process, hard=False)
        try:
            job.process.wait(GRACE_S)
        except subprocess.TimeoutExpired:
            _signal(job.process, hard=True)
            job.process.wait()

    @staticmethod
    def _follow(job: Job) -> None:
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
                        told = str(said["state"]), str(said.get("told", ""))[:MOST_TOLD]
        job.process.wait()
        if job.state == "running":
            job.seconds = time.monotonic() - job.begun
            job.told = told[1]
            job.state = told[0]


def _signal(process: subprocess.Popen[str], *, hard: bool) -> None:
    """End a job with the processes that it started."""
    if os.name == "nt":
        process.kill() if hard else process.terminate()
        return
    try:
        os.killpg(process.pid, signal.SIGKILL if hard else signal.SIGTERM)
    except ProcessLookupError:
        return
