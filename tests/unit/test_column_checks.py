"""Spells are refused for the same reasons whether or not a quick look finds nothing to see."""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.core.errors import SpellError
from fleetstats.core.seeds import stream
from fleetstats.spells import Spells, column_checks
from fleetstats.spells.event import Event

ODD = (0.0, -1.0, 2.0, 1e-9, 899.0, 900.0, 901.0, np.nan, np.inf, 1e200)


def columns(rng: np.random.Generator) -> dict[str, np.ndarray]:
    """Return sound columns of six lives, some between checks, and one cell or two of them odd."""
    n = 6
    out = {
        "entry": np.where(rng.random(n) < 0.5, 0.0, rng.uniform(0.0, 300.0, n)),
        "exit_upper": np.full(n, 900.0),
        "event": rng.integers(0, 4, n),
        "weight": np.where(rng.random(n) < 0.5, 1.0, 3.5),
        "assumed_h": np.where(rng.random(n) < 0.3, 40.0, 0.0) * (rng.random() < 0.5),
        "in_words": np.zeros(n),
        "clock_sd": np.full(n, np.nan),
        "at_rise_h": np.full(n, np.nan),
    }
    between = (out["event"] == Event.FAILED) & (rng.random(n) < 0.7)
    out["exit_lower"] = np.where(between, rng.uniform(300.0, 900.0, n), 900.0)
    for _ in range(rng.integers(0, 3)):
        name = rng.choice(["entry", "exit_lower", "exit_upper", "weight", "assumed_h", "clock_sd"])
        out[str(name)][rng.integers(n)] = rng.choice(ODD)
    if rng.random() < 0.1:
        out["event"][rng.integers(n)] = 7
    names = np.array([f"u{i}" for i in range(n)])
    return {"unit": names, "cause": names, "source": names, "build": names, **out}


def test_a_quick_look_refuses_and_lets_pass_what_a_look_at_each_row_does(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    rng = stream(1, "columns with an odd cell")
    quick = column_checks._nothing_to_see
    said = {True: 0, False: 0}
    for _ in range(3000):
        told = columns(rng)
        monkeypatch.setattr(column_checks, "_nothing_to_see", lambda *_: False)
        try:
            fleet, sound = Spells(**told), True
        except SpellError:
            sound = False
        monkeypatch.setattr(column_checks, "_nothing_to_see", quick)
        if not sound:
            with pytest.raises(SpellError):
                Spells(**told)
        elif np.isnan(told["clock_sd"]).all():
            # what is sound is seen at once, failures between checks and assumed hours too
            said[quick(fleet, ())] += 1
            Spells(**told)
    assert said[True] > 500
    assert said[False] == 0
