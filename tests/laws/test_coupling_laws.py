"""Lives paired anew say the same of a fleet: fits, counts at risk, exposure, product limits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetstats.core.errors import FitError
from fleetstats.spells.coupling import couple_margins, fine_step, round_ages
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells
from fleetstats.survival.counting.exposure import estimate_exposure
from fleetstats.survival.counting.product_limit import estimate_product_limit
from fleetstats.survival.families.families import FAMILIES, fit_family
from fleetstats.survival.weibull.fit_weibull import fit_weibull, weibull_log_likelihood

ROW = st.tuples(
    st.integers(0, 5), st.integers(0, 3), st.integers(1, 4), st.integers(0, 3), st.integers(1, 9)
)


def spells_of(rows: list[tuple[int, int, int, int, int]]) -> Spells:
    a = np.array(rows, dtype=np.float64).reshape(len(rows), 5)
    entry, upper = 50.0 * a[:, 0], 50.0 * (a[:, 0] + a[:, 1] + a[:, 2])
    lower = np.where(a[:, 3] == Event.FAILED, 50.0 * (a[:, 0] + a[:, 1]), upper)
    # every other failure is known to the hour
    exact = np.arange(len(a)) % 2 == 0
    return Spells.of(
        entry,
        upper,
        list(map(Event, a[:, 3])),
        exit_lower=np.where(exact, upper, lower),
        weight=a[:, 4],
    )


def margins(s: Spells) -> tuple[dict[float, float], dict[tuple[float, ...], float]]:
    entries: dict[float, float] = {}
    ends: dict[tuple[float, ...], float] = {}
    for e, low, up, kind, w in zip(
        s.entry, s.exit_lower, s.exit_upper, s.event, s.weight, strict=True
    ):
        entries[e] = entries.get(e, 0.0) + w
        end = (low, up, float(kind))
        ends[end] = ends.get(end, 0.0) + w
    return entries, ends


@settings(max_examples=300, deadline=None)
@given(rows=st.lists(ROW, min_size=1, max_size=60))
def test_entries_and_ends_are_kept_and_rows_are_few(
    rows: list[tuple[int, int, int, int, int]],
) -> None:
    each = spells_of(rows)
    few = couple_margins(each)
    assert margins(few) == margins(each)
    entries, ends = margins(each)
    assert len(few) <= min(len(each), len(entries) + len(ends) - 1)
    # the likelihood at any shape and scale, and so every fit, is the same sum in another order
    for shape, scale in ((0.7, 300.0), (2.6, 500.0)):
        a, b = (
            weibull_log_likelihood(
                shape, scale, x.entry, x.exit_lower, x.exit_upper, x.failed, x.weight
            )
            for x in (each, few)
        )
        assert b == pytest.approx(a, rel=1e-10, abs=1e-10)
    for hours in (0.0, 49.0, 50.0, 51.0, 275.0):
        assert few.at_risk(hours)[0] == each.at_risk(hours)[0]
    if each.n_failed:
        x, y = estimate_product_limit(each), estimate_product_limit(few)
        np.testing.assert_array_equal(y.hours, x.hours)
        np.testing.assert_allclose(y.reliability, x.reliability, rtol=1e-12)
    p, q = estimate_exposure(each), estimate_exposure(few)
    np.testing.assert_allclose(q.exposure_h, p.exposure_h, rtol=1e-12)
    np.testing.assert_allclose(q.n_failed, p.n_failed, rtol=1e-12)


@pytest.mark.parametrize("family", sorted(FAMILIES))
def test_every_family_fits_the_same(family: str) -> None:
    rng = np.random.default_rng(4)
    stop = np.round(rng.uniform(100, 1500, 900), -1)
    entry = np.where(rng.random(900) < 0.4, np.round(stop * rng.uniform(0, 0.8, 900), -1), 0.0)
    life = np.round(1200 * (rng.exponential(size=900) + (entry / 1200) ** 2.5) ** 0.4, -1)
    end, failed = np.minimum(np.maximum(life, entry + 10), stop), life <= stop
    lower = np.where(failed & (rng.random(900) < 0.5), np.maximum(end - 50, entry), end)
    each = Spells.of(entry, end, failed, exit_lower=lower)
    few = couple_margins(each)
    assert len(few) < 0.8 * len(each)
    a, b = fit_family(each, family), fit_family(few, family)
    np.testing.assert_allclose(b.estimate, a.estimate, rtol=1e-7)
    assert b.log_likelihood == pytest.approx(a.log_likelihood, rel=1e-10)


def test_an_end_at_a_late_entry_keeps_its_order() -> None:
    # an interval may begin at entry, an exact end may not: the exact one has to go first
    each = Spells.of(
        [50.0, 100.0], [100.0, 150.0], [0, 1], exit_lower=[100.0, 100.0], weight=[3.0, 3.0]
    )
    more = each.join(each).join(each)
    few = couple_margins(more)
    assert len(few) == 2
    assert margins(few) == margins(more)


def test_weights_that_are_not_whole_come_back_as_they_are() -> None:
    each = Spells.of([0.0] * 4, [100.0] * 4, [1, 1, 0, 0], weight=[0.5, 1.0, 1.0, 1.0])
    assert couple_margins(each) is each
    with pytest.raises(FitError):
        fit_weibull(couple_margins(Spells.of([], [], [])))


def test_engines_are_counted_with_the_rows_that_stand_for_many() -> None:
    each = Spells.of(
        [0.0, 100.0, 0.0], [100.0, 300.0, 50.0], [0, 1, 0], unit=["A", "A", "B"], weight=[1, 1, 7]
    )
    assert each.n_engines == 8
    assert repr(each).startswith("Spells: 9 lives of 8 engines, 1 failed")


FINE_ROW = st.tuples(
    st.floats(0, 900, allow_subnormal=False), st.floats(1e-7, 600), st.floats(0, 300),
    st.integers(0, 3), st.booleans(),
)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(rows=st.lists(FINE_ROW, min_size=1, max_size=40))
def test_rounded_hours_stay_near_and_every_life_keeps_its_kind(
    rows: list[tuple[float, float, float, int, bool]],
) -> None:
    a = np.array(rows, dtype=np.float64)
    entry = np.where(a[:, 4] == 1, 0.0, a[:, 0])
    lower = entry + a[:, 2]
    upper = np.maximum(lower + a[:, 1], entry + 1e-6)
    between = (a[:, 3] == Event.FAILED) & (lower < upper)
    kind = list(map(Event, a[:, 3]))
    each = Spells.of(entry, upper, kind, exit_lower=np.where(between, lower, upper))
    got = round_ages(each)
    step = fine_step(each)
    np.testing.assert_array_equal(got.interval_known, each.interval_known)
    np.testing.assert_array_equal(got.event, each.event)
    # an entry may go a little further where a life is shorter than a step
    for name, most in (("exit_lower", 1.0), ("exit_upper", 1.0), ("entry", 2.0)):
        old, new = getattr(each, name), getattr(got, name)
        assert (np.abs(new - old) <= most * step * (1 + 1e-9)).all(), name
    exact = ~each.interval_known
    near = np.abs(got.exit_upper - each.exit_upper)[exact]
    assert (near <= 0.5 * step * (1 + 1e-9)).all()
    assert (near <= 6e-4 * each.exit_upper[exact]).all()
    assert (got.exit_lower[~exact] <= each.exit_lower[~exact] * (1 + 1e-12)).all()
    assert (got.exit_upper[~exact] >= each.exit_upper[~exact] * (1 - 1e-12)).all()


def test_rounding_hardly_moves_a_fit_and_leaves_few_rows() -> None:
    rng = np.random.default_rng(6)
    n = 60_000
    entry = np.where(rng.random(n) < 0.3, rng.uniform(0, 600, n), 0.0)
    life = 1500 * (rng.exponential(size=n) + (entry / 1500) ** 0.8) ** (1 / 0.8)
    stop = entry + rng.uniform(20, 900, n)
    each = Spells.of(entry, np.minimum(life, stop), life <= stop)
    few = couple_margins(round_ages(each))
    assert len(couple_margins(each)) > 0.99 * n
    assert few.weight.sum() == n
    a, b = fit_weibull(each), fit_weibull(few)
    # no age moves by more than half a step, and by chance up as often as down
    assert b.shape == pytest.approx(a.shape, rel=2e-6)
    assert b.scale_h == pytest.approx(a.scale_h, rel=2e-6)
