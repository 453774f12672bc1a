"""What is asked of many rows at once is what is asked of each: no other source than the code."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from fleetstats.core.value import changed
from fleetstats.records.life import LifeRow
from fleetstats.records.rules import Ruling
from fleetstats.spells.edges import edges_of, edges_of_all
from fleetstats.vocabulary.finding import Origin

TODAY = dt.date(2026, 9, 30)


def rough_lives(n: int) -> list[LifeRow]:
    """Return lives with blank, equal, backward and future dates, doubts and hours of all sizes."""
    rng = np.random.default_rng(18)

    def day(nearer: float) -> dt.date | None:
        back = int(rng.choice([0, 1, 30, 365, rng.integers(-40, 6000)]) * nearer)
        return None if rng.random() < 0.3 else TODAY - dt.timedelta(days=back)

    out = []
    for i in range(n):
        entry = float(rng.choice([0.0, 120.0]))
        exit_h = entry + float(rng.choice([3.0, 120.0, 124.1, 1600.0, rng.gamma(2.0, 400.0)]))
        read = day(0.5)
        span = (read - dt.timedelta(days=9), read + dt.timedelta(days=20)) if read else None
        out.append(
            LifeRow(
                origin=Origin(file="a.csv", row=i + 2),
                engine=f"E{i}",
                entry_h=entry,
                exit_h=exit_h,
                exit_low_h=exit_h * 0.4 if rng.random() < 0.2 else None,
                last_good_h=entry + 1.0 if rng.random() < 0.3 else None,
                ending=str(rng.choice(["running", "failed", "removed"])),
                in_service=day(1.0),
                observed_from=day(1.0),
                last_reading=read,
                ended=day(0.4),
                coarse={"last_reading": span} if span and rng.random() < 0.2 else {},
            )
        )
    return out


def test_the_edges_of_many_lives_are_those_of_each() -> None:
    lives = rough_lives(600)
    kinds = [("failure", "exact"), ("failure", "interval"), ("censored", "exact"),
             ("finding", "interval"), ("competing", "exact")]  # fmt: skip
    rulings = [Ruling(counts_as=k, reason="", known_to=t) for k, t in kinds * 120]
    each = np.array([edges_of(x, v) for x, v in zip(lives, rulings, strict=True)], dtype=float)
    assert np.array_equal(np.array(edges_of_all(lives, rulings)).T, each)


def test_a_changed_value_is_the_one_that_replace_makes() -> None:
    life = rough_lives(1)[0]
    told = {"engine": "E-0099", "exit_h": 7.0, "note": "x"}
    assert changed(life, **told) == replace(life, **told)
    assert changed(life, **told).engine_id == "E99"
    assert life.engine == "E0"
    with pytest.raises(TypeError, match="LifeRow has no engin"):
        changed(life, engin="E1")
