"""What is done beyond the fence in its tests; a light module, as the other process imports it."""

from __future__ import annotations

import os
import signal
import tempfile
import time
from pathlib import Path

from fleetstats.core.errors import NoMaximum


def double(n: int, *, plus: int = 0) -> int:
    return 2 * n + plus


def hog() -> int:
    return len(bytearray(2**30))


def spin() -> None:
    while True:
        pass


def sleep() -> None:
    time.sleep(60)


def die() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def stumble() -> None:
    raise KeyError("what")


def refuse() -> None:
    raise NoMaximum("No maximum.", "Add lives.", reason="no-failures")


def litter() -> str:
    Path(tempfile.mkdtemp(), "left").write_text("x")
    return tempfile.gettempdir()


def fill() -> None:
    with tempfile.NamedTemporaryFile() as f:
        f.write(bytes(2**21))
