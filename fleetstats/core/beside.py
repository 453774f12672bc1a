"""One local process beside this one, for pieces of a single run that nothing else waits for.

It is asked early and its answer is taken late. What it has not begun by then is done here, and so
is what it fails at: the answer is the same, only later. So nothing depends on it, least of all the
digits of a result. (`core/crew.py` is for many equal tasks.)
"""

from __future__ import annotations

import functools
import multiprocessing
import os
import pickle
import threading
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Future, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Generic, TypeVar

from fleetstats.core.child import begin_as_child

R = TypeVar("R")


def count_processors() -> int:
    """Return how many processors this process may use."""
    own = getattr(os, "sched_getaffinity", None)
    return len(own(0)) if own is not None else os.cpu_count() or 1


@dataclass(slots=True)
class Later(Generic[R]):
    """A piece of work that may be done beside; `take` gives its result.

    Parameters
    ----------
    function, arguments
        The work; done here when the other process did not.
    future : Future or None
        Its place in the queue of the other process, where there is one.
    """

    function: Callable[..., R]
    arguments: tuple[Any, ...]
    future: Future[R] | None = None

    def take(self) -> R:
        """Return the result, doing the work here when it is not begun or has failed beside."""
        if self.future is not None and not self.future.cancel():
            try:
                return self.future.result()
            except Exception:
                # Doing it again gives the same error with its own traceback, or the result when
                # only the other process was at fault.
                self.future = None
        return self.function(*self.arguments)


class Beside:
    """A process beside this one, started at the first question; a context manager.

    Where there is one processor only, or no process can be started, all work is done here. At the
    end, an interrupt or an error the process is ended at once; it ends by itself when this one is
    killed. It never writes anything.

    Parameters
    ----------
    wanted : bool, optional
        Whether to start it; where there are two processors or more when left out.
    """

    def __init__(self, wanted: bool | None = None) -> None:
        self._wanted = count_processors() > 1 if wanted is None else wanted
        self._pool: ProcessPoolExecutor | None = None
        self._queue: _Queue | None = None
        self._children: list[multiprocessing.process.BaseProcess] = []

    def __enter__(self) -> Beside:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._pool is None:
            return
        # Its answers are taken or not wanted, and it never writes: nothing is lost by ending it.
        for child in self._children:
            child.terminate()
        self._pool.shutdown(wait=True, cancel_futures=True)

    def ask(self, function: Callable[..., R], *arguments: Any) -> Later[R]:
        """Hand out a piece of work.

        Parameters
        ----------
        function : callable
            Of a module, so that the other process finds it by name, and without side effects.
        *arguments
            Picklable.

        Returns
        -------
        Later
        """
        return Later(function, arguments, self._submit(function, arguments))

    def begin(self, function: Callable[[], object]) -> None:
        """Let the other process get ready; nothing is done here in its place."""
        self._submit(function, ())

    def _submit(self, function: Callable[..., R], arguments: tuple[Any, ...]) -> Future[R] | None:
        if not self._wanted:
            return None
        try:
            if self._pool is None:
                before = set(multiprocessing.active_children())
                context = multiprocessing.get_context("spawn")
                self._pool = ProcessPoolExecutor(1, mp_context=context, initializer=begin_as_child)
                self._queue = _Queue(self._pool)
                with interrupts_held():
                    future = self._queue.put(function, arguments)
                self._children = [c for c in multiprocessing.active_children() if c not in before]
                return future
            assert self._queue is not None
            return self._queue.put(function, arguments)
        except (OSError, RuntimeError, ImportError, NotImplementedError):
            # No semaphores: go on alone. What the queue cannot hand out is done here when taken.
            self._wanted = False
            return None


class _Queue:
    """Hands the other process one piece of work at a time, so that none waits there.

    A pool takes the next piece before the one in hand is done, and what it took cannot be done
    here: this process then waited for work that nobody had begun.
    """

    def __init__(self, pool: ProcessPoolExecutor) -> None:
        self._pool = pool
        self._lock = threading.Lock()
        self._busy = False
        self._waiting: deque[tuple[Future[Any], Callable[..., Any], tuple[Any, ...]]] = deque()

    def put(self, function: Callable[..., R], arguments: tuple[Any, ...]) -> Future[R]:
        """Return the future of a piece of work, begun at once where none is in hand."""
        told: Future[R] = Future()
        with self._lock:
            if self._busy:
                self._waiting.append((told, function, arguments))
                return told
            self._busy = True
        self._begin(told, function, arguments)
        return told

    def _begin(
        self, told: Future[Any], function: Callable[..., Any], arguments: tuple[Any, ...]
    ) -> None:
        if not told.set_running_or_notify_cancel():  # it was done here meanwhile
            self._go_on()
            return
        try:
            real = self._pool.submit(function, *arguments)
        except (OSError, RuntimeError) as error:  # no more processes, or it died
            told.set_exception(error)
            self._go_on()
            return
        real.add_done_callback(functools.partial(self._tell, told))

    def _tell(self, told: Future[Any], real: Future[Any]) -> None:
        if real.cancelled():
            told.set_exception(CancelledError())
        elif (error := real.exception()) is not None:
            told.set_exception(error)
        else:
            told.set_result(real.result())
        self._go_on()

    def _go_on(self) -> None:
        with self._lock:
            self._busy = bool(self._waiting)
            following = self._waiting.popleft() if self._waiting else None
        if following is not None:
            self._begin(*following)


class Shared(Generic[R]):
    """A value that several pieces of work are given: packed once, and unpacked once over there.

    Parameters
    ----------
    value
        Picklable; nobody changes it.
    """

    def __init__(self, value: R) -> None:
        self.value = value
        self._packed: bytes | None = None

    def __reduce__(self) -> tuple[Callable[[bytes], Shared[Any]], tuple[bytes]]:
        """Return how it is packed for the other process."""
        if self._packed is None:
            self._packed = pickle.dumps(self.value, pickle.HIGHEST_PROTOCOL)
        return _unpack, (self._packed,)


@functools.lru_cache(maxsize=1)
def _unpack(packed: bytes) -> Shared[Any]:
    return Shared(pickle.loads(packed))


@contextmanager
def interrupts_held() -> Iterator[None]:
    """Let Ctrl-C wait while a process starts: it inherits that, and has no other guard so early."""
    import signal

    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
