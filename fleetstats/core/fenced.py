"""One call in a process of its own, under limits of memory and time.

For work on what a stranger sent: whatever it makes the libraries do, this process goes on and says
what became of it. The other process writes into one folder only, which is removed afterwards, and
ends with this one. It is a fence against excess, not a prison: the same user runs it.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, Generic, TypeVar

from fleetstats.core.beside import interrupts_held
from fleetstats.core.child import begin_as_child
from fleetstats.core.errors import FleetstatsError

R = TypeVar("R")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fence:
    """How much a call may take.

    Parameters
    ----------
    memory_bytes : int
        Address space of the process.
    seconds : int
        Processor time, and time by the clock.
    file_bytes : int
        Size of one file that it writes.
    """

    memory_bytes: int
    seconds: int
    file_bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Fenced(Generic[R]):
    """What a call gave, and which limits the system does not know: their names as words."""

    result: R
    not_held: tuple[str, ...]


class Refused(FleetstatsError):
    """An error of the package raised beyond the fence."""


class FenceReached(FleetstatsError):
    """The call came to no result.

    Attributes
    ----------
    why : str
        ``"memory"``, ``"time"``, ``"ended"`` (the process died of itself) or ``"error"``.
    """

    def __init__(self, message: str, *, why: str) -> None:
        super().__init__(message)
        self.why = why


def call_fenced(
    function: Callable[..., R], *arguments: Any, fence: Fence, named: Mapping[str, Any]
) -> Fenced[R]:
    """Call a function of a module in a process under limits.

    Parameters
    ----------
    function : callable
        Of a module, so that the other process finds it by name.
    *arguments, named
        Picklable, as is the result.
    fence : Fence
        The limits.

    Raises
    ------
    Refused
        If the function raised an error of the package.
    FenceReached
        If it came to a limit, died, or raised any other error.
    """
    context = multiprocessing.get_context("spawn")
    told, tell = context.Pipe(duplex=False)
    with tempfile.TemporaryDirectory(prefix="fleetstats-", ignore_cleanup_errors=True) as place:
        work = (tell, place, fence, function, arguments, dict(named))
        process = context.Process(target=_work, args=work, daemon=True)
        try:
            with interrupts_held():
                process.start()
            tell.close()
            answer = _wait(told, fence.seconds)
        finally:
            if process.pid is not None:
                # nothing that it still does is wanted, and it writes only into its folder
                process.kill()
                process.join()
            told.close()
    if answer is None:
        answer = ("reached", _why_ended(process.exitcode), "")
    return _taken(answer)


def _wait(told: Connection, seconds: int) -> tuple[str, Any, Any] | None:
    """Return what the process tells; None if it dies before."""
    if not told.poll(seconds):
        return ("reached", "time", "")
    try:
        answer: tuple[str, Any, Any] = told.recv()
    except EOFError:
        return None
    return answer


def _why_ended(code: int | None) -> str:
    """Return why a process died, from its exit code; it was killed here in any case."""
    return "time" if code == -getattr(signal, "SIGXCPU", 0) else "ended"


def _taken(answer: tuple[str, Any, Any]) -> Fenced[Any]:
    kind, first, second = answer
    if kind == "result":
        return Fenced(result=first, not_held=second)
    if kind == "refused":
        raise Refused(first, second)
    raise FenceReached(second, why=first)


def _work(
    tell: Connection,
    place: str,
    fence: Fence,
    function: Callable[..., Any],
    arguments: tuple[Any, ...],
    named: dict[str, Any],
) -> None:
    """Do the work in the other process and tell what came of it."""
    begin_as_child()
    os.environ.update(TMPDIR=place, TEMP=place, TMP=place)
    tempfile.tempdir = place
    _be_silent()
    not_held = _set_limits(fence)
    try:
        answer: tuple[str, Any, Any] = ("result", function(*arguments, **named), not_held)
    except FleetstatsError as error:
        answer = ("refused", error.message, error.hint)
    except MemoryError:
        answer = ("reached", "memory", "")
    except Exception as error:
        at = traceback.extract_tb(error.__traceback__)[-1]
        answer = (
            "reached",
            "error",
            f"{type(error).__name__}, {Path(at.filename).name}:{at.lineno}",
        )
    tell.send(answer)
    tell.close()
    time.sleep(60)  # until it is ended; leaving by itself would only cost the time of tidying up


def _be_silent() -> None:
    """Send what libraries write to the screen nowhere; what is to be told goes by the pipe."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError, ValueError, AttributeError):
            os.dup2(nowhere, stream.fileno())


def _set_limits(fence: Fence) -> tuple[str, ...]:
    """Set the limits that this system knows; return the names of the others."""
    wanted = {
        "memory": ("RLIMIT_AS", fence.memory_bytes),
        "processor time": ("RLIMIT_CPU", fence.seconds),
        "size of files": ("RLIMIT_FSIZE", fence.file_bytes),
        "": ("RLIMIT_CORE", 0),
    }
    try:
        import resource
    except ImportError:  # not a Unix; only the clock is held, by the other process
        return tuple(k for k in wanted if k)
    not_held = []
    for words, (name, most) in wanted.items():
        try:
            kind = getattr(resource, name)
            hard = resource.getrlimit(kind)[1]
            least = most if hard == resource.RLIM_INFINITY else min(most, hard)
            resource.setrlimit(kind, (least, hard))
        except (AttributeError, ValueError, OSError):
            not_held.append(words)
    return tuple(w for w in not_held if w)
