"""Work for one request, within a limit of time and apart from what answers all others.

Each piece has a thread of its own that does not outlive the desk: a long one holds up no file, no
word on a job and not the closing, and one that is given up may still come to its end unseen.
"""

from __future__ import annotations

import asyncio
import contextlib
import contextvars
import threading
from collections.abc import Callable, Iterator
from typing import ParamSpec, Protocol, TypeVar

from fleetstats.desk import guards

P = ParamSpec("P")
T = TypeVar("T")


class TookTooLong(Exception):
    """A request had no answer within `guards.SECONDS_TO_ANSWER`."""


class DeskClosed(Exception):
    """The desk was closed while a request was worked on."""


async def in_time(work: Callable[P, T], *args: P.args, **named: P.kwargs) -> T:
    """Return what a piece of work returns.

    Raises
    ------
    TookTooLong
        If it takes longer than `guards.SECONDS_TO_ANSWER` (s); it is not broken off.
    DeskClosed
        If the server ends meanwhile.
    """
    loop = asyncio.get_running_loop()
    done: asyncio.Future[T] = loop.create_future()
    context = contextvars.copy_context()

    def settle(told: T | None, error: BaseException | None) -> None:
        if done.done():
            return  # nobody waits any more
        if error is not None:
            done.set_exception(error)
        else:
            done.set_result(told)  # type: ignore[arg-type]  # what the work returned

    def run() -> None:
        told, failed = None, None
        try:
            told = context.run(work, *args, **named)
        except BaseException as error:  # whoever waits raises it
            failed = error
        with contextlib.suppress(RuntimeError):  # the desk was closed meanwhile
            loop.call_soon_threadsafe(settle, told, failed)

    threading.Thread(target=run, daemon=True).start()
    try:
        finished, _ = await asyncio.wait({done}, timeout=guards.SECONDS_TO_ANSWER)
    except asyncio.CancelledError:  # by the server alone, once it has waited for its end
        raise DeskClosed from None
    if not finished:
        done.cancel()
        raise TookTooLong
    return done.result()


class Lock(Protocol):
    """What `its_turn` waits for."""

    def acquire(self, blocking: bool = ..., timeout: float = ...) -> bool:
        """Wait for it, so long; return whether it is held now."""

    def release(self) -> None:
        """Give it back."""


@contextlib.contextmanager
def its_turn(lock: Lock) -> Iterator[None]:
    """Hold a lock; who waits for it longer than a request may take is sent away, not heaped up.

    Raises
    ------
    TookTooLong
        If it is not to be had within `guards.SECONDS_TO_ANSWER`.
    """
    if not lock.acquire(timeout=guards.SECONDS_TO_ANSWER):
        raise TookTooLong
    try:
        yield
    finally:
        lock.release()
