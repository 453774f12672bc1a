"""A session of R beside ours: columns in, an expression timed by R's own processor clock."""

from __future__ import annotations

import functools
import shutil
import subprocess
import tempfile
from pathlib import Path

import numpy as np

from beside.contest import BOUND_S, TooSlow, again

END = "<<end>>"


class Session:
    """R with `survival` loaded, fed line by line; ended with the process."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="beside-"))
        self.child = subprocess.Popen(
            ["R", "--vanilla", "--no-echo"], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        self.tell("options(warn = -1); library(survival)")

    def close(self) -> None:
        """End R and remove its files."""
        self.child.kill()
        self.child.wait()
        shutil.rmtree(self.folder, ignore_errors=True)

    def tell(self, line: str) -> list[str]:
        """Run a line and return what it printed."""
        assert self.child.stdin is not None
        assert self.child.stdout is not None
        self.child.stdin.write(f"{line}\ncat('\\n{END}\\n'); flush(stdout())\n")
        self.child.stdin.flush()
        out = []
        for text in self.child.stdout:
            if text.strip() == END:
                return out
            out.append(text.strip())
        said = self.child.stderr.read() if self.child.stderr is not None else ""
        session.cache_clear()
        if "time limit" in said:
            raise TooSlow
        if "cannot allocate" in said:
            raise MemoryError
        raise RuntimeError(f"R ended: {said.strip()}")

    def give(self, **columns: np.ndarray) -> None:
        """Set columns of numbers."""
        for name, column in columns.items():
            path = self.folder / name
            np.ascontiguousarray(column, dtype=np.float64).tofile(path)
            self.tell(f"{name} <- readBin('{path}', 'double', {column.size})")

    def timed(self, expression: str) -> float:
        """Set `ans` to an expression; return the seconds of the processor that R counts for it."""
        self.tell(f"run <- function() {{ {expression} }}")
        start = f"setTimeLimit(cpu = {BOUND_S}); invisible(gc()); t0 <- proc.time(); "
        stop = "t1 <- proc.time() - t0; setTimeLimit(); cat(sum(t1[1:2]), '\\n')"
        seconds = float(self.tell(f"{start} ans <- run(); {stop}")[0])
        if (more := again(seconds)) > 1:
            loop = f"for (i in 1:{more}) run()"
            seconds = float(self.tell(f"{start} {loop}; {stop}")[0]) / more
        return seconds

    def numbers(self, expression: str) -> np.ndarray:
        """Return the numbers of an expression."""
        path = self.folder / "answer"
        self.tell(f"writeBin(as.double({expression}), '{path}')")
        return np.fromfile(path)


@functools.cache
def session() -> Session:
    """Return the one session of R of this run."""
    return Session()


def has_r() -> bool:
    """Return whether R and its package `survival` are installed."""
    if shutil.which("R") is None:
        return False
    run = subprocess.run(
        ["Rscript", "--vanilla", "-e", "library(survival)"], capture_output=True, check=False
    )
    return run.returncode == 0
