"""A fleet that is noted to differ by a few rows is bounded as if nobody had noted it.

Held against the sums over all lives themselves, which are worked out where nothing is noted.
"""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from fleetstats.advice.quoted import reliability_low
from fleetstats.bands.bayes.prior import count_lives
from fleetstats.bands.by_age import ByAge
from fleetstats.bands.likelihood.kept_power import power_of
from fleetstats.bands.likelihood.power import nodes_of
from fleetstats.bands.likelihood.surface import Surface
from fleetstats.bands.near_claim import NearClaim
from fleetstats.bands.product_bound import least_since
from fleetstats.bands.shape_free import Settled
from fleetstats.core.seeds import stream
from fleetstats.core.value import Value
from fleetstats.spells import Spells
from fleetstats.spells.supposed.changed import change_of, failure_ages, note_change
from fleetstats.study.settings import Settings

SHAPES = nodes_of(48, np.log(0.05), np.log(60.0))


def fleet(rng: np.random.Generator, n: int, *, kind: str) -> Spells:
    """Lives of a fleet, some seen from late on; by `kind` weighted, in halves, or found at checks.

    Ages are whole hours, so that many are equal, and some engines go on in a second life.
    """
    life, stop = 900.0 * rng.weibull(2.5, n), rng.uniform(50, 1500, n)
    end = np.maximum(np.round(np.minimum(life, stop)), 2.0)
    entry = np.where(rng.random(n) < 0.3, np.floor(0.5 * end), 0.0)
    failed = life < stop
    lower = np.where(failed & (rng.random(n) < 0.3), 0.5 * (entry + end), end)
    out = Spells.of(
        entry, end, failed, unit=[f"E{i}" for i in range(n)],
        exit_lower=lower if kind == "checks" else end,
        weight={"weighted": rng.integers(1, 4, n), "halves": 0.5 + rng.integers(0, 2, n)}.get(kind),
    )  # fmt: skip
    return out.split_at(400.0)


def changed(rng: np.random.Generator, s: Spells) -> tuple[Spells, Spells]:
    """Return a fleet with some lives longer or failed and further ones, noted and not noted."""
    k, more = rng.integers(0, 6, 2)
    free = np.flatnonzero(~s.failed)
    at = rng.choice(free, k, replace=False)
    if rng.random() < 0.3:  # the oldest of all, cut short: the age that all are told in changes
        at = np.union1d(at, free[np.argmax(s.exit_upper[free])])
    stop, event = s.exit_upper.copy(), s.event.copy()
    stop[at] = s.entry[at] + np.round((stop[at] - s.entry[at]) * rng.uniform(0.3, 1.5, len(at))) + 1
    event[at] = rng.random(len(at)) < 0.5
    lower = np.where(s.interval_known, s.exit_lower, stop)
    out = s.replace(exit_upper=stop, exit_lower=lower, event=event)
    end = np.round(rng.uniform(300, 900, more))
    further = Spells.of(0.0, end, rng.random(more) < 0.5, unit=[f"new {i}" for i in range(more)])
    out = out.join(further) if more else out
    noted = note_change(out, s, at, np.append(at, len(s) + np.arange(more)))
    return noted, out.replace()


def same(a: Value, b: Value, *, rel: float) -> None:
    """Hold each number of two values to each other."""
    for name in (f.name for f in fields(a)):
        x, y = (np.asarray(getattr(v, name), dtype=float) for v in (a, b))
        np.testing.assert_allclose(x, y, rtol=rel, atol=0.0, err_msg=name)


@pytest.mark.parametrize("kind", ["exact", "weighted", "halves", "checks"])
def test_what_is_sorted_and_counted_is_the_same_to_the_last_digit(kind: str) -> None:
    rng = stream(7, f"changed fleets {kind}")
    told = 0
    for _ in range(25):
        s = fleet(rng, 300, kind=kind)
        noted, plain = changed(rng, s)
        told += change_of(noted) is not None
        assert change_of(plain) is None
        same(ByAge.of_spells(noted), ByAge.of_spells(plain), rel=0.0)
        same(Settled.of_spells(noted), Settled.of_spells(plain), rel=0.0)
        assert count_lives(noted) == count_lives(plain)
        ages = failure_ages(plain)
        assert (ages is None) == (kind != "exact")
        if ages is not None:
            np.testing.assert_array_equal(failure_ages(noted), ages)
            np.testing.assert_array_equal(ages, np.sort(plain.exit_upper[plain.failed]))
        a, b = (NearClaim.of(x, least=10.0) for x in (noted, plain))
        np.testing.assert_array_equal(a.ages, b.ages)
    assert told == 25


@pytest.mark.parametrize("kind", ["exact", "weighted", "halves", "checks"])
def test_sums_of_powers_and_bounds_are_the_same(kind: str) -> None:
    rng = stream(8, f"changed fleets {kind}")
    for _ in range(8):
        s = fleet(rng, 300, kind=kind)
        noted, plain = changed(rng, s)
        np.testing.assert_allclose(power_of(noted, SHAPES), power_of(plain, SHAPES), rtol=1e-13)
        a, b = Surface.of_spells(noted), Surface.of_spells(plain)
        np.testing.assert_allclose(a.log_power(SHAPES), b.log_power(SHAPES), rtol=0, atol=1e-12)
        assert (a.n_failed, a.has_gaps) == (b.n_failed, b.has_gaps)
        for name in ("reference_h", "n_failed", "sum_log"):
            np.testing.assert_allclose(getattr(a.sums, name), getattr(b.sums, name), rtol=1e-12)
        low = [reliability_low(x, Settings(), 700.0, 0.95) for x in (noted, plain)]
        assert low[0] == pytest.approx(low[1], rel=1e-12)


def test_a_life_taken_out_that_was_nearly_all_is_summed_anew() -> None:
    """What is left of a sum after nearly all of it is taken away has few digits."""
    old = Spells.of(0.0, [*np.linspace(10, 300, 40), 3000.0], [1] * 20 + [0] * 21)
    short = old.exit_upper.copy()
    short[-1] = 300.0
    cut = old.replace(exit_upper=short, exit_lower=short)
    noted = note_change(cut, old, [40], [40])
    assert change_of(noted) is not None
    np.testing.assert_allclose(power_of(noted, SHAPES), power_of(cut.replace(), SHAPES), rtol=1e-13)


def test_lives_that_go_on_in_others_are_counted_anew() -> None:
    """A life that now ends where another of its engine begins is one life with it."""
    s = Spells.of(
        [*np.zeros(40), 500.0], [*np.linspace(100, 400, 40), 900.0], np.zeros(41),
        unit=[*(f"E{i}" for i in range(40)), "E0"],
    )  # fmt: skip
    stop = s.exit_upper.copy()
    stop[0] = 500.0
    noted = note_change(s.replace(exit_upper=stop, exit_lower=stop), s, [0], [0])
    assert change_of(noted) is not None
    assert count_lives(s) == 41.0
    assert count_lives(noted) == 40.0


def test_many_rows_that_differ_are_not_noted() -> None:
    s = Spells.of(0.0, np.linspace(100, 400, 40), np.zeros(40))
    assert change_of(note_change(s.replace(), s, range(20), range(20))) is None


def test_least_since_a_failure_is_the_same_for_whole_numbers_and_others() -> None:
    """Whole numbers are set below each other by themselves, others by their ranks."""
    rng = stream(9, "least since")
    for n in (1, 2, 30, 300):
        at_risk = rng.integers(1, 50, n).astype(float)
        bad = rng.random(n) < 0.3
        left = at_risk - bad
        whole = least_since(at_risk, left, bad)
        np.testing.assert_array_equal(whole, 2.0 * least_since(0.5 * at_risk, 0.5 * left, bad))
        want, least = [], np.inf
        for a, after, b in zip(at_risk, left, bad, strict=True):
            least = min(least, a)
            want.append(least)
            least = after if b else least
        np.testing.assert_array_equal(whole, want)
