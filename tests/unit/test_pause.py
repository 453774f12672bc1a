"""What is spared the search for cycles, and for how long."""

from __future__ import annotations

import gc
import weakref

import pytest

from fleetstats.core.errors import FitError
from fleetstats.core.pause import living_spared


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
