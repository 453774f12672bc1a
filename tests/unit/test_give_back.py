"""Free memory is given back where the system can, and nothing happens where it cannot."""

from __future__ import annotations

import ctypes
import gc
from pathlib import Path

import numpy as np
import pytest

from fleetstats.core.memory import give_back


def resident_mb() -> float:
    text = Path("/proc/self/status").read_text(encoding="utf-8")
    return int(text.split("VmRSS:")[1].split()[0]) / 1024


def test_room_between_columns_in_use_is_given_back() -> None:
    """What a join leaves: every other column is free, and the last one, at the top, is not."""
    if not hasattr(ctypes.CDLL(None), "malloc_trim") or not Path("/proc/self/status").exists():
        pytest.skip("the system's library cannot give memory back")
    columns = [np.ones(12_000) for _ in range(1200)]  # 96 kB each, less than what is mapped apart
    before = resident_mb()
    columns[:-1:2] = [None] * len(columns[:-1:2])
    gc.collect()
    held = resident_mb()
    give_back()
    assert resident_mb() < before - 40
    assert resident_mb() < held - 20


def test_a_system_that_cannot_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    from fleetstats.core.memory.give_back import _trim

    def none(*_: object) -> None:
        raise OSError

    monkeypatch.setattr(ctypes, "CDLL", none)
    _trim.cache_clear()
    give_back()
    _trim.cache_clear()
