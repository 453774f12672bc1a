"""Who does the work: this process, local processes, or an engine that is already running.

The same tasks go to all three. A task carries all that it needs, its random stream included, so
results are the same to the bit whoever does it and in whatever order. What a lost worker had in
hand is done again; a task that keeps taking its worker with it is given up, alone.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    CancelledError,
    Future,
    ProcessPoolExecutor,
    wait,
)
from concurrent.futures.process import BrokenProcessPool
from contextvars import ContextVar
from multiprocessing import get_context
from typing import Any, TypeVar

from fleetstats.core.child import begin_as_child
from fleetstats.core.errors import FleetstatsError, SettingError
from fleetstats.core.provenance import installed_versions
from fleetstats.core.value import Value, value

T = TypeVar("T")
R = TypeVar("R")

IN_HAND = 2
"""Tasks handed out for each worker at a time, so that tasks wait here and not in its memory."""

MOST_DEATHS = 2
"""Workers that one task may take with it before it is given up."""

MOST_WORKERS = 256
CONNECT_SECONDS, CLOSE_SECONDS = 15, 5
LOOK_SECONDS, PATIENCE_SECONDS = 10, 120
"""How often a silent scheduler is asked for its workers, and how long it may have none."""

DECIDING = ("python", "fleetstats", "numpy", "scipy")
"""What must be the same on all workers for results to be the same to the bit."""


class WorkerLost(FleetstatsError):
    """A task ended its worker each time it was tried; memory is the usual reason."""


@value
class Crew(Value):
    """Who does the work.

    Parameters
    ----------
    workers : int
        Local processes; 1 works in this process.
    scheduler : str
        Address of a Dask scheduler, such as ``"tcp://127.0.0.1:8786"``; it then does the work.

    Raises
    ------
    SettingError
        If the number of workers is impossible.
    """

    workers: int = 1
    scheduler: str = ""

    def __post_init__(self) -> None:
        if not 1 <= self.workers <= MOST_WORKERS:
            raise SettingError(
                f"{self.workers} workers.", f"Ask for 1 to {MOST_WORKERS} local processes."
            )

    @property
    def alone(self) -> bool:
        """Return whether this process does the work."""
        return self.workers == 1 and not self.scheduler


_AT_WORK: ContextVar[Crew | None] = ContextVar("crew at work", default=None)


@contextlib.contextmanager
def at_work(crew: Crew | None) -> Iterator[None]:
    """Let a crew do the long work of everything that is called within; no result depends on it.

    Parameters
    ----------
    crew : Crew, optional
        None leaves it to whoever does the work already.
    """
    token = _AT_WORK.set(crew if crew is not None else _AT_WORK.get())
    try:
        yield
    finally:
        _AT_WORK.reset(token)


def crew_at_work() -> Crew:
    """Return who does long work here; this process where nobody was named, as in a worker."""
    return _AT_WORK.get() or Crew()


def do_work(
    function: Callable[[T], R],
    tasks: Sequence[T],
    crew: Crew | None = None,
    *,
    on_lost: Callable[[T], R] | None = None,
) -> Iterator[tuple[int, R]]:
    """Yield (number of the task, its result) as tasks are done, in any order.

    Parameters
    ----------
    function : callable
        Of a module, so that other processes find it by name. What it raises stops the work.
    tasks : sequence
        What it is called with; must be picklable unless the work is done in this process.
    crew : Crew, optional
        This process when left out.
    on_lost : callable, optional
        Gives the result of a task that was given up; without it `WorkerLost` is raised.

    Raises
    ------
    SettingError
        If no scheduler answers at the address, or its workers run another version.
    WorkerLost
        If a task is given up and there is no `on_lost`.

    Notes
    -----
    Closing the iterator, or an interrupt, lets tasks in hand end and starts no more.
    """
    who = crew or Crew()
    if who.scheduler:
        with _library_quiet():
            yield from _on_scheduler(function, tasks, who.scheduler, on_lost)
    elif who.workers == 1:
        for i, task in enumerate(tasks):
            yield i, function(task)
    else:
        yield from _in_processes(function, tasks, who.workers, on_lost)


def gather(function: Callable[[T], R], tasks: Sequence[T], crew: Crew | None = None) -> list[R]:
    """Return the results of all tasks in their order; parameters and errors as `do_work`."""
    done = dict(do_work(function, tasks, crew))
    return [done[i] for i in range(len(tasks))]


def _give_up(task: T, on_lost: Callable[[T], R] | None) -> R:
    if on_lost is not None:
        return on_lost(task)
    raise WorkerLost(
        f"A task ended its worker {MOST_DEATHS} times.",
        "It may need more memory than there is; use fewer workers.",
    )


def _in_processes(
    function: Callable[[T], R],
    tasks: Sequence[T],
    workers: int,
    on_lost: Callable[[T], R] | None,
) -> Iterator[tuple[int, R]]:
    waiting = list(range(len(tasks)))[::-1]
    while waiting:
        suspects = yield from _one_pool(function, tasks, waiting, workers)
        # A broken pool does not say which task broke it, so each in hand is tried alone.
        for i in suspects:
            for _ in range(MOST_DEATHS):
                if not (yield from _one_pool(function, tasks, [i], 1)):
                    break
            else:
                yield i, _give_up(tasks[i], on_lost)


def _one_pool(
    function: Callable[[T], R], tasks: Sequence[T], waiting: list[int], workers: int
) -> Generator[tuple[int, R], None, list[int]]:
    """Work off `waiting` from its end; return the tasks in hand when a worker died, else none."""
    pool = ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=begin_as_child)
    in_hand: dict[Future[R], int] = {}
    try:
        while waiting or in_hand:
            try:
                while waiting and len(in_hand) < IN_HAND * workers:
                    future = pool.submit(function, tasks[waiting[-1]])
                    in_hand[future] = waiting.pop()
            except BrokenProcessPool:
                return sorted(in_hand.values())
            lost = []
            for future in wait(in_hand, return_when=FIRST_COMPLETED).done:
                i = in_hand.pop(future)
                try:
                    result = future.result()
                except BrokenProcessPool:
                    lost.append(i)
                else:
                    yield i, result
            if lost:
                return sorted([*lost, *in_hand.values()])
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
    return []


def _on_scheduler(
    function: Callable[[T], R],
    tasks: Sequence[T],
    address: str,
    on_lost: Callable[[T], R] | None,
) -> Iterator[tuple[int, R]]:
    if not tasks:
        return
    client = _connect(address)
    waiting = list(range(len(tasks)))[::-1]
    suspects: list[int] = []
    in_hand: dict[Any, int] = {}

    def hand_out(i: int) -> None:
        in_hand[client.submit(function, tasks[i], pure=False)] = i

    try:
        while waiting or in_hand:
            room = IN_HAND * max(sum(client.nthreads().values()), 1)
            while waiting and len(in_hand) < room:
                hand_out(waiting.pop())
            for future in _next_done(client, in_hand):
                i = in_hand.pop(future)
                if _killed(future):
                    suspects.append(i)
                else:
                    yield i, future.result()
        # The scheduler blames all that a worker had in hand when it died, so each is tried alone.
        for i in suspects:
            hand_out(i)
            (future,) = _next_done(client, in_hand)
            in_hand.pop(future)
            yield i, _give_up(tasks[i], on_lost) if _killed(future) else future.result()
    except (OSError, RuntimeError, TypeError, TimeoutError, CancelledError):
        # A task's own error stands; without a scheduler there are no results and no errors either.
        if _answers(client):
            raise
        raise WorkerLost(
            f"The scheduler at '{address}' is gone.",
            "Start it and run again; what was finished is not lost where it was kept.",
        ) from None
    finally:
        with contextlib.suppress(Exception):
            client.cancel(list(in_hand))
        with contextlib.suppress(Exception):
            client.close(timeout=CLOSE_SECONDS)


def _answers(client: Any) -> bool:
    """Return whether the scheduler of a client is there."""
    try:
        client.sync(client.scheduler.identity, callback_timeout=CLOSE_SECONDS)
    except Exception:
        return False
    return bool(client.status == "running")


@contextlib.contextmanager
def _library_quiet() -> Iterator[None]:
    """Keep the library's own log off the screen: what went wrong is told by an error, in words."""
    import logging

    before = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        yield
    finally:
        logging.disable(before)


def _next_done(client: Any, in_hand: dict[Any, int]) -> set[Any]:
    """Wait for some of the futures; give up when there is no worker for too long."""
    from distributed import wait as wait_there

    without = 0
    while True:
        try:
            with client.as_current():
                return set(wait_there(list(in_hand), LOOK_SECONDS, "FIRST_COMPLETED").done)
        except TimeoutError:
            without = 0 if client.nthreads() else without + LOOK_SECONDS
        if without >= PATIENCE_SECONDS:
            raise WorkerLost(
                f"The scheduler has had no worker for {without} seconds.",
                "Start workers and run again; what was finished is not lost where it was kept.",
            )


def _killed(future: Any) -> bool:
    from distributed import KilledWorker

    return future.status == "error" and isinstance(future.exception(), KilledWorker)


def _connect(address: str) -> Any:
    """Return a client of the scheduler, its workers checked to run what runs here."""
    try:
        from distributed import Client
    except ImportError:
        raise SettingError(
            "A scheduler was named, and the library that speaks to it is not installed.",
            "Install fleetstats[scheduler], or leave the option out: local processes then work.",
        ) from None
    client = Client.__new__(Client)
    try:
        Client.__init__(client, address, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError, TypeError) as e:
        _let_go(client)
        raise SettingError(
            f"No scheduler answers at '{address}' ({type(e).__name__}).",
            "Give its address as it prints it, such as tcp://127.0.0.1:8786.",
        ) from None
    try:
        client.wait_for_workers(1, timeout=CONNECT_SECONDS)
        _check_workers(client, address)
    except TimeoutError:
        client.close()
        raise SettingError(
            f"The scheduler at '{address}' has no workers.", "Start some, then try again."
        ) from None
    except BaseException:
        client.close()
        raise
    return client


def _let_go(client: Any) -> None:
    """Close a client that was half made, here and now.

    Left to itself it closes when it is collected: at the end of the program, where that waits for
    nothing, or in the midst of the next client's start, where both wait for each other.
    """
    with contextlib.suppress(Exception):
        client.close(timeout=CLOSE_SECONDS)
    client.status = "closed"


def versions_here() -> dict[str, str]:
    """Return the versions that the digits of a result can depend on."""
    return {k: v for k, v in installed_versions().items() if k in DECIDING}


def _check_workers(client: Any, address: str) -> None:
    here = versions_here()
    try:
        there = client.run(versions_here)
    except (ImportError, AttributeError):
        there = {"a worker": {}}
    for worker, versions in there.items():
        other = sorted(k for k in here if versions.get(k) != here[k])
        if other:
            told = ", ".join(f"{k} {versions.get(k, 'missing')}, here {here[k]}" for k in other)
            raise SettingError(
                f"A worker of the scheduler at '{address}' has other versions ({worker}: {told}).",
                "Install the same versions there; only then are results the same to the bit.",
            )
