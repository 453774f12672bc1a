"""How processes end: a child with its parent, and one that is told to end clears up first.

Nothing heavy is imported here: a stop may come while the rest is still being loaded.
"""

from __future__ import annotations

import os
import signal
import sys
from types import FrameType
from typing import Final

STOPPED: Final = 130
"""Exit status after Ctrl-C, as shells have it."""

TOLD_TO_STOP: Final = 143
"""Exit status of a process that another one told to end (128 and the number of SIGTERM)."""


class ToldToStop(KeyboardInterrupt):
    """Another process told this one to end: a stop like Ctrl-C."""

    status = TOLD_TO_STOP


def heed_the_end() -> None:
    """Let SIGTERM stop this process as Ctrl-C does, so that what was begun is cleared away.

    Else its temporary files stay, and the locks of its children are told of as lost.
    """
    signal.signal(signal.SIGTERM, _stop)


def leave_at_the_end() -> None:
    """Let SIGTERM end this process by itself, after it has cleared up, without a word."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(TOLD_TO_STOP))


def status_of(error: BaseException | None) -> int:
    """Return the exit status after a stop that is behind an error."""
    while error is not None:
        if isinstance(error, ToldToStop):
            return error.status
        error = error.__cause__ or error.__context__
    return STOPPED


def _stop(number: int, frame: FrameType | None) -> None:
    del number, frame
    # once is enough: a second one must not fall into the clearing up
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    raise ToldToStop


def begin_as_child() -> None:
    """Let the first process alone decide what Ctrl-C means, and end when it ends.

    A parent that is killed ends no child by itself: the work in hand would go on for nobody.
    """
    import multiprocessing
    import threading
    import warnings

    from fleetstats.core.pause import collect_seldom

    collect_seldom()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)  # one that was split off has its parent's
    warnings.simplefilter("ignore")
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    """Wait for the parent's end, which its sentinel tells on every system."""
    from multiprocessing.connection import wait

    wait([sentinel])
    os._exit(1)
