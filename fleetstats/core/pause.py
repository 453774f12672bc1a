"""The search for garbage cycles: seldom, and paused while very many values that live on are made.

Rows by the hundred thousand hold no cycles, and walking over all of them again and again took a
fifth of the reading.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

SELDOM = 10_000
"""New objects after which cycles are looked for. After the usual 700 a small study spent a
twentieth of its time on it, mostly over modules and values that live to its end."""


def collect_seldom() -> None:
    """Let this process, which ends with its work, look for cycles less often."""
    gc.set_threshold(SELDOM)


@contextmanager
def collection_paused(*, lives_on: bool = False) -> Iterator[None]:
    """Pause the collector of cycles; it is as before when the block ends, however it ends.

    What was made inside is walked over at the next search, or, where it `lives_on`, only when all
    that is old is searched.
    """
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was and lives_on and not gc.get_freeze_count():
            gc.freeze()
            gc.unfreeze()
        if was:
            gc.enable()


@contextmanager
def living_spared() -> Iterator[None]:
    """Spare what lives when the block begins the search for cycles until it ends.

    What is made inside is searched as ever. Each list of a hundred thousand lives set off a walk
    over all rows, cells and lives of the study, which none of them could have made garbage.
    """
    gc.freeze()
    try:
        yield
    finally:
        gc.unfreeze()
