"""What every process that another one started keeps to: it ends with its parent, and is silent."""

from __future__ import annotations

import os


def begin_as_child() -> None:
    """Let the first process alone decide what Ctrl-C means, and end when it ends.

    A parent that is killed ends no child by itself: the work in hand would go on for nobody.
    """
    import multiprocessing
    import signal
    import threading
    import warnings

    from fleetstats.core.pause import collect_seldom

    collect_seldom()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    warnings.simplefilter("ignore")
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    """Wait for the parent's end, which its sentinel tells on every system."""
    from multiprocessing.connection import wait

    wait([sentinel])
    os._exit(1)
