"""A fleet with failures placed has the rows that cutting its lives one after the other gives."""

from __future__ import annotations

import numpy as np
import pytest

from fleetstats.core.seeds import stream
from fleetstats.spells import Spells
from fleetstats.spells.event import Event
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.placings import POINT, SPREAD, as_seen, place_left_out, placed_ages

FIELDS = (
    "unit", "entry", "exit_lower", "exit_upper", "event", "cause", "source", "build", "weight",
    "assumed_h", "clock_sd", "in_words",
)  # fmt: skip


def fleet(rng: np.random.Generator) -> Spells:
    """Return lives of few engines, some weighted, late, assumed or found at a check."""
    n = 12
    entry = np.where(rng.random(n) < 0.4, rng.uniform(50.0, 200.0, n), 0.0)
    upper = entry + rng.uniform(10.0, 900.0, n).round(1)
    event = rng.choice([int(Event.FAILED), int(Event.CENSORED)], n)
    check = (event == Event.FAILED) & (rng.random(n) < 0.5)
    return Spells(
        unit=np.array([f"E-{rng.integers(5)}" for _ in range(n)]),
        entry=entry,
        exit_lower=np.where(check, 0.5 * (entry + upper), upper),
        exit_upper=upper,
        event=event,
        cause=np.where(event == Event.FAILED, "valve", ""),
        source=rng.choice(["a", "b"], n),
        build=rng.choice(["", "x"], n),
        weight=rng.choice([1.0, 2.5, 4.0], n),
        assumed_h=np.where(event == Event.FAILED, 0.0, 0.5 * (upper - entry)),
        clock_sd=np.where(rng.random(n) < 0.5, 0.1, np.nan),
        in_words=check * 1.0,
    )


def missing(rng: np.random.Generator) -> tuple[LeftOut, ...]:
    """Return failures, some of engines named, some of one engine twice."""
    return tuple(
        LeftOut(file="log.csv", row=i, low_h=float(rng.choice([0.0, 30.0])), count=int(c),
                high_h=float(rng.choice([100.0, 600.0])), reason="has no hours",
                engine=str(rng.choice(["", "e 1", "E-2", "E-2", "E-9"])), source="b", cause="ring")
        for i, c in enumerate(rng.integers(1, 4, 5))
    )  # fmt: skip


def cut_one_by_one(spells: Spells, at: list[tuple[LeftOut, float]]) -> list[dict[str, object]]:
    """Return the rows left of the lives: whole ones first, then what a cut row leaves of others."""
    rows = [{name: getattr(spells, name)[i] for name in FIELDS} for i in range(len(spells))]
    gone, others, taken = set(), {}, set()
    for x, age in at:
        name = x.engine.replace(" ", "-").upper()
        mine = [i for i, row in enumerate(rows) if row["unit"] == name and i not in taken]
        own = [i for i in mine if rows[i]["event"] != Event.FAILED]
        if not x.engine or not own:
            continue
        i = max(own, key=lambda j: spells.exit_upper[j] - spells.entry[j])
        taken.add(i)
        row = rows[i]
        if age >= row["exit_upper"]:
            continue
        if row["weight"] > x.count:
            others[i] = {**row, "weight": row["weight"] - x.count}
            row["weight"] = float(x.count)
        if age <= row["entry"]:
            gone.add(i)
        else:
            row.update(exit_lower=age, exit_upper=age, event=int(Event.CENSORED))
            row["assumed_h"] = min(row["assumed_h"], age - row["entry"])
    left = [row for i, row in enumerate(rows) if i not in gone]
    return left + [others[i] for i in sorted(others)]


def rows_of(spells: Spells) -> list[dict[str, object]]:
    return [{name: getattr(spells, name)[i] for name in FIELDS} for i in range(len(spells))]


@pytest.mark.parametrize("position", [0.0, 0.4, 1.0, SPREAD])
def test_placed_rows_are_those_of_lives_cut_one_by_one(position: float) -> None:
    rng = stream(5, "rows of placings")
    cut = 0
    for _ in range(60):
        spells, which = fleet(rng), missing(rng)
        ages = placed_ages(spells, which, position)
        want = cut_one_by_one(spells, [(x, float(a[0])) for x, a in zip(which, ages, strict=True)])
        cut += len(want) != len(spells)
        for i, (x, own) in enumerate(zip(which, ages, strict=True)):
            want += [
                {"unit": f"left out {i + 1}", "entry": (1.0 - POINT) * age, "exit_lower": age,
                 "exit_upper": age, "event": int(Event.FAILED), "cause": x.cause,
                 "source": x.source, "build": x.build, "weight": x.count / len(own),
                 "assumed_h": 0.0, "clock_sd": np.nan, "in_words": 0.0}
                for age in own.tolist()
            ]  # fmt: skip
        got = place_left_out(spells.with_left_out(which), which, position)
        assert got.left_out == ()
        # the doubt of a clock that nobody stated is no number
        assert str(rows_of(got)) == str(rows_of(Spells(**columns(want))))
    assert cut > 10


def test_what_is_seen_of_lives_has_no_placed_failure() -> None:
    rng = stream(6, "rows as seen")
    for _ in range(60):
        spells, which = fleet(rng), missing(rng)
        ages = placed_ages(spells, which, 0.0)
        want = cut_one_by_one(spells, [(x, float(a[0])) for x, a in zip(which, ages, strict=True)])
        got = as_seen(spells.with_left_out(which))
        assert got.left_out == ()
        assert str(rows_of(got)) == str(rows_of(Spells(**columns(want))))


def columns(rows: list[dict[str, object]]) -> dict[str, np.ndarray]:
    return {name: np.array([row[name] for row in rows]) for name in FIELDS}
