"""What is spared the search for cycles, and for how long."""

from __future__ import annotations

import gc
import weakref

import pytest

from fleetstats.core.errors import FitError
from fleetstats.core.pause import collection_paused, living_spared


class Node:
    """One of two that hold each other."""

    def __init__(self) -> None:
        self.other = self


def test_what_lives_is_spared_and_what_is_made_is_not() -> None:
    before = gc.get_freeze_count()
    with living_spared():
        assert gc.get_freeze_count() > before
        gone = weakref.ref(Node())
        gc.collect()
        assert gone() is None
    assert gc.get_freeze_count() == 0


def test_nothing_stays_spared_when_the_work_fails() -> None:
    with pytest.raises(FitError), living_spared():
        raise FitError("No.", "Try.")
    assert gc.get_freeze_count() == 0


def test_what_lives_on_is_not_walked_over_when_the_pause_ends() -> None:
    gc.collect()
    with collection_paused(lives_on=True):
        made = [Node() for _ in range(2000)]
        assert not gc.isenabled()
        gone = weakref.ref(Node())
    assert gc.isenabled()
    young = {id(x) for x in (*gc.get_objects(generation=0), *gc.get_objects(generation=1))}
    assert not any(id(x) in young for x in made)
    gc.collect()  # garbage made meanwhile is found with all that is old
    assert gone() is None


def test_a_pause_within_what_is_spared_leaves_it_spared() -> None:
    with living_spared():
        before = gc.get_freeze_count()
        with collection_paused(lives_on=True):
            pass
        assert gc.get_freeze_count() == before > 0
    assert gc.get_freeze_count() == 0
