"""One local process beside this one, for pieces of a single run that nothing else waits for.

It is asked early and its answer is taken late. What it has not begun by then is done here, and so
is what it fails at: the answer is the same, only later. So nothing depends on it, least of all the
digits of a result. (`core/crew.py` is for many equal tasks.)

Where the system splits a process safely, it is split off this one once there is something to share:
it then has every module at hand and every value, and nothing is sent to it. Elsewhere it is started
afresh, early, and what it works with is sent.
"""

from __future__ import annotations

import functools
import gc
import itertools
import multiprocessing
import os
import pickle
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError, Future, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Generic, TypeVar
from weakref import WeakValueDictionary

from fleetstats.core.child import begin_as_child

R = TypeVar("R")


def count_processors() -> int:
    """Return how many processors this process may use."""
    own = getattr(os, "sched_getaffinity", None)
    return len(own(0)) if own is not None else os.cpu_count() or 1


KEEPS_THREADS = ("typst", "polars")
"""Libraries that work with threads of their own, which Python does not count and which wait for
each other for ever in a process split off after them. (Those of linear algebra look to it.)"""


def can_split() -> bool:
    """Return whether this process may be split: what another thread holds nobody lets go there."""
    alone = threading.active_count() == 1 and not any(k in sys.modules for k in KEEPS_THREADS)
    return sys.platform == "linux" and alone


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
        self._split = False
        self._children: list[multiprocessing.process.BaseProcess] = []

    def __enter__(self) -> Beside:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._end()

    def _end(self) -> None:
        if self._pool is None:
            return
        # Its answers are taken or not wanted, and it never writes: nothing is lost by ending it.
        for child in self._children:
            child.terminate()
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._pool, self._queue, self._children = None, None, []

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
        """Let the other process get ready; nothing is done here in its place.

        One that will be split off needs no time to get ready.
        """
        if self._pool is not None or not can_split():
            self._submit(function, ())

    def share(self, value: R) -> Shared[R]:
        """Return a value that pieces of work may be given, at no cost where it can be.

        Where this process can be split, the other one begins anew from here and holds the value;
        what it had at hand before must be done.
        """
        shared = Shared(value)
        if not self._wanted or (self._pool is not None and not (self._split and self._is_idle())):
            return shared
        self._end()
        if can_split():
            shared.hold()
            self._submit(count_processors, ())
        return shared

    def ask_sharing(self, function: Callable[[Shared[Any]], R], shared: Shared[Any]) -> Later[R]:
        """Hand out work that pays only where what it is made of need not be sent."""
        return self.ask(function, shared) if self.shares else Later(function, (shared,))

    @property
    def shares(self) -> bool:
        """Return whether the other process holds what was shared last, so that none is sent."""
        return self._split and self._pool is not None

    def _is_idle(self) -> bool:
        return self._queue is None or self._queue.is_idle

    def _submit(self, function: Callable[..., R], arguments: tuple[Any, ...]) -> Future[R] | None:
        if not self._wanted:
            return None
        try:
            if self._pool is None:
                before = set(multiprocessing.active_children())
                self._split = can_split()
                context = multiprocessing.get_context("fork" if self._split else "spawn")
                first = _begin_split if self._split else begin_as_child
                self._pool = ProcessPoolExecutor(1, mp_context=context, initializer=first)
                self._queue = _Queue(self._pool)
                with interrupts_held(ends_too=self._split):
                    future = self._queue.put(function, arguments)
                self._children = [c for c in multiprocessing.active_children() if c not in before]
                return future
            assert self._queue is not None
            return self._queue.put(function, arguments)
        except (OSError, RuntimeError, ImportError, NotImplementedError):
            # No semaphores: go on alone. What the queue cannot hand out is done here when taken.
            self._wanted = False
            return None


def _begin_split() -> None:
    """Begin as a child that has all that its parent had, of which nothing becomes garbage here."""
    import signal

    gc.freeze()
    begin_as_child()
    signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGTERM})


class _Queue:
    """Hands the other process one piece of work at a time, so that none waits there.

    A pool takes the next piece before the one in hand is done, and what it took cannot be done
    here: this process then waited for work that nobody had begun.
    """

    def __init__(self, pool: ProcessPoolExecutor) -> None:
        self._pool = pool
        self._lock = threading.Lock()
        self._busy = False
        self._in_hand: Future[Any] | None = None
        self._waiting: deque[tuple[Future[Any], Callable[..., Any], tuple[Any, ...]]] = deque()

    @property
    def is_idle(self) -> bool:
        """Return whether nothing that somebody waits for is in hand."""
        with self._lock:
            told = [self._in_hand, *(f for f, _, _ in self._waiting)]
        return all(f is None or f.done() for f in told)

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
        self._in_hand = told
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
        self._number: int | None = None

    def hold(self) -> None:
        """Let a process that is split off from now on find it in its own memory."""
        self._number = next(_NUMBERS)
        _HELD[self._number] = self

    def __reduce__(self) -> tuple[Callable[..., Shared[Any]], tuple[Any]]:
        """Return how it is packed for the other process."""
        if self._number is not None:
            return _held, (self._number,)
        if self._packed is None:
            self._packed = pickle.dumps(self.value, pickle.HIGHEST_PROTOCOL)
        return _unpack, (self._packed,)


_NUMBERS = itertools.count()
_HELD: WeakValueDictionary[int, Shared[Any]] = WeakValueDictionary()
"""Values that processes split off this one have."""


def _held(number: int) -> Shared[Any]:
    return _HELD[number]


@functools.lru_cache(maxsize=1)
def _unpack(packed: bytes) -> Shared[Any]:
    return Shared(pickle.loads(packed))


@contextmanager
def interrupts_held(*, ends_too: bool = False) -> Iterator[None]:
    """Let Ctrl-C wait while a process starts: it inherits that, and has no other guard so early.

    One that is split off inherits as well what this one does when it is told to end, so that word
    waits too where `ends_too`, until the other has made up its own mind.
    """
    import signal

    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    held = {signal.SIGINT, signal.SIGTERM} if ends_too else {signal.SIGINT}
    before = signal.pthread_sigmask(signal.SIG_BLOCK, held)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
