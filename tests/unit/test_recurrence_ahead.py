"""Events ahead: limits by hand and by simulation, hours from each engine's own use, the demo."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest
from advice_fleets import made_settings
from workshop import workshop_files

from fleetstats.chapters.recurrence.ahead import hours_ahead, predict_count, say_ahead
from fleetstats.records.life import LifeRow
from fleetstats.spells.histories import Histories
from fleetstats.vocabulary.finding import Origin

DATASETS = Path(__file__).parents[2] / "datasets"


def histories(
    counts: list[int] | np.ndarray, hours: float = 1000.0, cost: float = 1.0
) -> Histories:
    n = len(counts)
    names = np.array([f"E{i:03d}" for i in range(n)])
    blank = np.full(n, "")
    unit = np.repeat(names, counts)
    at = np.concatenate([hours * (np.arange(k) + 1) / (k + 1) for k in counts])
    return Histories(
        unit=names, start_h=np.zeros(n), end_h=np.full(n, hours), source=blank, build=blank,
        event_unit=unit, event_h=at, event_cost=np.full(len(unit), cost),
        event_kind=np.full(len(unit), "part changed"),
    )  # fmt: skip


@pytest.mark.parametrize("counts", [[0, 0, 1], [1] * 7, [0, 9, 1, 0], [3] * 400, [0, 800] * 50])
@pytest.mark.parametrize("hours", [3.0, 700.0, 4e6])
def test_limits_are_the_library_s_points(counts: list[int], hours: float) -> None:
    """Counts from none to millions: scipy's points of the law that the mean and spread state."""
    from scipy import stats

    a = predict_count(histories(counts), hours, kind="all", months=12, level=0.9)
    assert a is not None
    variance = a.spread * a.expected + a.expected**2 * a.spread / sum(counts)
    p = a.expected / variance
    law = stats.nbinom(a.expected * p / (1.0 - p), p)
    assert (a.low, a.high) == (law.ppf(0.05), law.ppf(0.95))


def test_alike_engines_by_hand() -> None:
    """40 engines with 2 events each in 1,000 h: rate 2 per 1,000 h, no spread beyond chance.

    Over 10,000 h: mean 20, variance 20 + 400 / 80 = 25; a negative binomial of these two has
    p = 0.8 and size 80, whose 5 % and 95 % points are 12 and 29 (scipy).
    """
    from scipy import stats

    a = predict_count(histories([2] * 40), 10_000.0, kind="all", months=12, level=0.9)
    assert a is not None
    assert (a.expected, a.spread, a.cost) == (20.0, 1.0, None)
    assert (a.low, a.high) == (12.0, 29.0)
    assert stats.nbinom.cdf(29, 80, 0.8) >= 0.95 > stats.nbinom.cdf(28, 80, 0.8)


def test_unlike_engines_widen_the_limits() -> None:
    a = predict_count(histories([0, 4] * 20), 10_000.0, kind="all", months=12, level=0.9)
    b = predict_count(histories([2] * 40), 10_000.0, kind="all", months=12, level=0.9)
    assert a is not None
    assert b is not None
    # each deviates by 2: sum of squares 160 * 40 / 39 over 80 events
    assert a.spread == pytest.approx(160 * 40 / 39 / 80)
    assert a.low < b.low < b.high < a.high


def test_nothing_to_say_without_events_or_hours() -> None:
    assert predict_count(histories([0, 0]), 100.0, kind="x", months=12, level=0.9) is None
    assert predict_count(histories([1, 0]), 0.0, kind="x", months=12, level=0.9) is None
    assert hours_ahead([], made_settings()) is None


def covered(spread: float, rng: np.random.Generator, n: int = 60, tried: int = 400) -> float:
    """Return how often the 90 % limits hold the next count, of engines with gamma rates.

    The same engines fly on, so their own rates carry over; the fleet's next count is Poisson given
    those rates.
    """
    hits = 0
    for _ in range(tried):
        rates = 1.5 * (rng.gamma(1.0 / spread, spread, n) if spread else np.ones(n))
        seen = rng.poisson(rates)
        if not seen.sum():
            continue
        a = predict_count(histories(seen), 500.0 * n, kind="x", months=12, level=0.9)
        assert a is not None
        hits += a.low <= rng.poisson(0.5 * rates.sum()) <= a.high
    return hits / tried


@pytest.mark.parametrize("spread", [0.0, 0.5])
def test_the_limits_hold_what_they_promise(spread: float) -> None:
    """Nominal 90 %; whole limits and engines that fly on make it more, not less."""
    got = covered(spread, np.random.default_rng(7))
    error = np.sqrt(0.9 * 0.1 / 400)
    assert got >= 0.9 - 2.6 * error, got


def test_hours_ahead_are_each_engines_own() -> None:
    settings = made_settings(fleet={"hours_per_year": 100.0})
    row = LifeRow(
        origin=Origin(file="m.csv", row=2), engine="E-1", exit_h=730.5, ending="running",
        in_service=dt.date(2022, 1, 1), last_reading=dt.date(2026, 1, 1),
    )  # fmt: skip
    other = LifeRow(origin=Origin(file="m.csv", row=3), engine="E-2", exit_h=50.0,
                    ending="running")  # fmt: skip
    # 730.5 h in 4 years are 182.6 h a year; the other takes the stated 100
    got = hours_ahead([row, other], settings)
    assert got == pytest.approx(182.5 + 100.0, abs=0.3)


def test_a_life_since_overhaul_flies_at_its_own_rate_not_the_engines_age() -> None:
    """The shop's engines fly 90 to 210 h a year by their truth, overhauled or not."""
    from fleetstats.spells.running import find_running
    from fleetstats.studies.analyse import lives_of
    from fleetstats.study.study import read_study

    study = read_study(DATASETS / "workshop")
    rows = lives_of(study).rows
    running = find_running(rows, study.settings)
    later = {r.engine for r in rows if r.life > 0 and r.ending == "running"}
    assert len(later) > 20
    own = [e for e in running if e.use_from == "own"]
    assert len(own) > 60
    assert all(88.0 <= e.use_h <= 213.0 for e in own)
    # and where only the engine's entry into service is known, the hours since new belong to it
    row = LifeRow(
        origin=Origin(file="m.csv", row=2), engine="E-1", exit_h=300.0, life_start_h=1200.0, life=1,
        ending="running", in_service=dt.date(2016, 1, 1), last_reading=dt.date(2026, 1, 1),
    )  # fmt: skip
    (e,) = find_running([row], made_settings(hours={"basis": "since-overhaul"}))
    assert e.use_h == pytest.approx(150.0, rel=1e-3)


def test_the_sentence_and_the_demo() -> None:
    for name, text in workshop_files().items():
        assert (DATASETS / "workshop" / name).read_text(encoding="utf-8") == text
    a = predict_count(histories([2] * 40, cost=50.0), 10_000.0, kind="part changed", months=12,
                      level=0.9)  # fmt: skip
    assert a is not None
    assert say_ahead(a, "EUR") == (
        "Over the next 12 months the running engines will fly about 10,000 h at their own rates: "
        "about 20 events (part changed) are expected, 12 to 29 with a chance of 90 %, at a cost of "
        "about 1,000 EUR, if the mix of ages stays as it was."
    )
