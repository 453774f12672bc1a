"""Every cell of the page that answers back is what a study with these settings says, to the digit.

The law is logic, with no outside source. It runs on all shipped data; the fast suite takes a seeded
sample of the cells without unreported failures, and the slow one all cells.
"""

from __future__ import annotations

import dataclasses
import functools
import itertools
import math
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fleetstats.advice.advice import VERDICTS, Advice
from fleetstats.advice.advise import advise_hours, aimed_lives
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.tipping import PLACINGS, suppose_hidden
from fleetstats.chapters.page_grid.compute import chapter_tabulated
from fleetstats.core.seeds import stream
from fleetstats.core.units import round_edge
from fleetstats.document.tabulated import Tabulated
from fleetstats.studies.analyse import lives_of
from fleetstats.studies.main_results import fit_or_reason
from fleetstats.study.settings import Settings
from fleetstats.study.study import read_study

DATASETS = ("on-condition", "on-condition-2025", "quiet-fleet", "tow-clubs", "workshop")
SAMPLE = 10
PARTS = ("low", "estimate", "high")

Edges = tuple[float | None, float | None, float | None]


@functools.cache
def made(name: str) -> tuple[Any, Tabulated]:
    """Return the main results of a shipped study, as the grid asks for them, and the grid."""
    study = read_study(f"datasets/{name}")
    spells = lives_of(study).spells
    fit, _ = fit_or_reason(spells)
    base = SimpleNamespace(
        spells=spells,
        fit=fit,
        settings=study.settings,
        advice=advise_hours(spells, fit, study.settings),
    )
    return base, chapter_tabulated(base, {})  # type: ignore[arg-type]


def anew(base: Any, cell: dict[str, float]) -> Advice:
    """Return the advice of the study run anew with a cell's settings."""
    s: Settings = base.settings
    study = dataclasses.replace(
        s.study,
        confidence=cell["confidence"],
        claimed_interval_h=cell.get("claim_h", s.study.claimed_interval_h),
    )
    s = dataclasses.replace(s, study=study)
    if "check_h" in cell:
        s = dataclasses.replace(s, check=dataclasses.replace(s.check, interval_h=cell["check_h"]))
    if "cost_ratio" in cell:
        s = dataclasses.replace(s, cost=dataclasses.replace(s.cost, ratio=cell["cost_ratio"]))
    return advise_hours(base.spells, base.fit, s, curves=False)


def shown(interval: Any) -> Edges:
    """Return the edges of hours as a report shows them."""
    if interval is None:
        return None, None, None
    a, b, c = (None if (v := getattr(interval, p)) is None else round_edge(v, p) for p in PARTS)
    return a, b, c


def looked_up(tab: Tabulated, row: str, cell: dict[str, float]) -> Edges:
    got = [r for p in PARTS for r in tab.readings if r.row.startswith(row) and r.part == p]
    a, b, c = (tab.look_up(r, **cell)[0] for r in got)
    return a, b, c  # type: ignore[return-value]


def check_ages(tab: Tabulated, cell: dict[str, float], advice: Advice) -> None:
    """Hold the rows of hours of one cell against an advice."""
    band = advice.overhaul_band
    hours = (band.plan_from.hours, band.expect_at.hours, band.not_beyond.hours)
    assert looked_up(tab, "Overhaul band", cell) == hours, cell
    life = shown(advice.reliability.life)
    assert looked_up(tab, "Age that", cell) == life, cell
    if advice.risk.target is not None:
        assert advice.risk.chosen is not None
        assert looked_up(tab, "Age at which", cell) == shown(advice.risk.chosen.age), cell
    if "cost_ratio" in cell:
        assert looked_up(tab, "Cheapest age", cell) == shown(advice.cost.optimum), cell


def check_claim(tab: Tabulated, cell: dict[str, float], advice: Advice) -> None:
    """Hold the rows on the claimed hours of one cell against a verdict."""
    v = advice.verdict
    assert v is not None
    word = next(r for r in tab.readings if r.part == "word")
    assert tab.look_up(word, **cell) == (VERDICTS[v.word], v.extrapolated), cell
    want = tuple(getattr(v.reliability, p) for p in PARTS)
    assert looked_up(tab, "Share of engines", cell) == want, cell


def cells(tab: Tabulated, *keys: str) -> list[dict[str, float]]:
    """Return every combination of the grid's knobs among `keys`, without unreported failures."""
    knobs = [k for k in tab.knobs if k.key in keys]
    return [
        dict(zip([k.key for k in knobs], pick, strict=True)) | {"hidden": 0.0}
        for pick in itertools.product(*(k.values.tolist() for k in knobs))
    ]


def both(tab: Tabulated) -> Iterator[tuple[Any, list[dict[str, float]]]]:
    yield check_ages, cells(tab, "check_h", "cost_ratio", "confidence")
    yield check_claim, cells(tab, "claim_h", "confidence")


@pytest.mark.parametrize("name", DATASETS)
def test_cells_are_what_the_study_run_anew_says(name: str) -> None:
    base, tab = made(name)
    for check, every in both(tab):
        rng = stream(11, f"cells of {name}")
        for i in rng.permutation(len(every))[:SAMPLE]:
            check(tab, every[i], anew(base, every[i]))


@pytest.mark.slow
@pytest.mark.parametrize("name", DATASETS)
def test_all_cells_are_what_the_study_run_anew_says(name: str) -> None:
    base, tab = made(name)
    for check, every in both(tab):
        assert len(every) >= 3
        for cell in every:
            check(tab, cell, anew(base, cell))


def least(*edges: float | None, none: float = math.inf) -> float | None:
    """Return the least of edges, a missing one counting as `none`."""
    x = min(none if e is None else e for e in edges)
    return x if math.isfinite(x) else None


@pytest.mark.parametrize("name", DATASETS)
def test_with_unreported_failures_a_cell_is_the_worst_of_as_many_or_fewer(name: str) -> None:
    # "up to k": each fleet is asked anew, k by k, at the placing that hurts the claim most
    base, tab = made(name)
    own = Quoter.of(base.spells, base.fit, base.settings)
    claim = next(k.start for k in tab.knobs if k.key == "claim_h")
    numbers = next(k for k in tab.knobs if k.key == "hidden").values.tolist()
    from fleetstats.bands.quantity import Quantity

    at = Quantity.reliability(claim)
    target = base.settings.targets.reliability
    seen: list[Any] = []
    lives: list[Any] = []
    for k in numbers:
        tried = [suppose_hidden(own, int(k), claim, p) for p in PLACINGS]
        worst = tried[int(np.argmin([t.interval(at).low or 0.0 for t in tried]))]
        seen.append(worst.interval(at))
        low = next(
            r for r in tab.readings if r.row.startswith("Share of engines") and r.part == "low"
        )
        assert tab.look_up(low, hidden=k)[0] == least(*(s.low for s in seen), none=-math.inf)
        aim = aimed_lives(own)
        more = [suppose_hidden(aim, int(k), claim, p) for p in PLACINGS]
        there = more[int(np.argmin([t.interval(at).low or 0.0 for t in more]))]
        lives.append(there.interval(Quantity.life(1.0 - target)))
        want = least(*(x.low for x in lives), none=-math.inf)
        assert looked_up(tab, "Age that", {"hidden": k})[0] == (
            None if want is None else round_edge(want, "low")
        )
