"""The spread between sources: the integrals by brute force, and what the answer does."""

from __future__ import annotations

import numpy as np
import pytest
from between_pools import pool

from fleetstats.core.errors import FitError
from fleetstats.spells import Spells
from fleetstats.survival.groups.between import fit_between
from fleetstats.survival.groups.between_grid import weighted_quantile


def brute_force(spells: Spells, prior_tau: float, quantiles: list[float]) -> dict[str, np.ndarray]:
    """Plain sums over dense grids: log scale of each source by the trapezoid, no quadrature."""
    with np.errstate(divide="ignore"):  # far from the data the likelihood is 0
        return _sums(spells, prior_tau, quantiles)


def _sums(spells: Spells, prior_tau: float, quantiles: list[float]) -> dict[str, np.ndarray]:
    unit = spells.oldest_h
    parts = [spells.select(spells.source == n) for n in np.unique(spells.source)]
    b = np.linspace(np.log(1.1), np.log(5.5), 20)
    mu, tau = np.linspace(-1.5, 2.5, 101), np.linspace(0.02, 2.3, 46)
    x = np.linspace(-2.5, 4.0, 521)
    total = -0.5 * (tau / prior_tau)[None, None, :] ** 2
    total = total - 0.5 * ((b - np.log(2.0)) / 0.6)[:, None, None] ** 2
    total = np.broadcast_to(total, (len(b), len(mu), len(tau))).copy()
    normal = np.exp(-0.5 * ((x[:, None, None] - mu[:, None]) / tau) ** 2) / tau
    for p in parts:
        for i, log_shape in enumerate(b):
            k = np.exp(log_shape)
            ll = np.zeros(len(x))
            for e, lo, up, d in zip(p.entry, p.exit_lower, p.exit_upper, p.failed, strict=True):
                h = [(v / unit) ** k * np.exp(-k * x) for v in (e, lo, up)]
                ll += h[0]
                if d and lo < up:
                    ll += np.log(np.exp(-h[1]) - np.exp(-h[2]))
                else:
                    ll -= h[2]
                    if d:
                        ll += log_shape + (k - 1) * np.log(up / unit) - k * x
            top = ll.max()
            total[i] += top + np.log(np.einsum("x,xmt->mt", np.exp(ll - top), normal))
    w = np.exp(total - total.max())
    w /= w.sum()
    grid = np.meshgrid(b, mu, tau, indexing="ij")
    # The life of a new source: a mixture of normals, summed on a grid of log hours.
    y = np.linspace(-3, 1.5, 181)
    from scipy import special

    place = grid[1] + np.log(-np.log(0.9)) * np.exp(-grid[0])
    big = w > 1e-7
    cdf = np.array([w[big] @ special.ndtr((v - place[big]) / grid[2][big]) for v in y])

    def middles(mass: np.ndarray) -> np.ndarray:
        return np.cumsum(mass) - 0.5 * mass

    return {
        "life": unit * np.exp(np.interp(quantiles, cdf, y)),
        "tau": np.interp(quantiles, middles(w.sum(axis=(0, 1))), tau),
        "shape": np.exp(np.interp(quantiles, middles(w.sum(axis=(1, 2))), b)),
    }


@pytest.mark.parametrize("found", [False, True], ids=["exact", "found at checks"])
def test_integrals_by_brute_force(found: bool) -> None:
    spells, _ = pool(np.random.default_rng(21), 4, 30, 0.2, found=found)
    got = fit_between(spells, level=0.90, rivals=())
    want = brute_force(spells, got.new.prior_tau, [0.05, 0.5, 0.95])
    n = got.new
    # The sums are coarse: 46 values of tau to 2.3 and 20 of the shape. A finer one takes minutes.
    assert [n.life_low_h, n.life_h, n.life_high_h] == pytest.approx(list(want["life"]), rel=0.01)
    shapes = [got.shape_low, got.shape, got.shape_high]
    assert shapes == pytest.approx(list(want["shape"]), rel=0.02)
    assert [got.tau, got.tau_high] == pytest.approx(list(want["tau"][1:]), rel=0.04)


def test_sources_are_drawn_in_the_more_the_fewer_their_failures() -> None:
    spells, _ = pool(np.random.default_rng(5), 5, 60, 0.5)
    thin = spells.source == "s2"
    keep = ~thin | (np.cumsum(thin) <= 12)
    got = fit_between(spells.select(keep), level=0.90)
    kept = {s.name: (s.n_failed, s.kept) for s in got.sources}
    assert all(0 <= k <= 1 for _, k in kept.values())
    most = max(kept.values(), key=lambda v: v[0])
    least = min(kept.values(), key=lambda v: v[0])
    assert most[1] > least[1]
    for s in got.sources:
        assert s.low_h < s.scale_h < s.high_h
    # A new source is less certain than any seen.
    width = np.log(got.new.scale_high_h / got.new.scale_low_h)
    assert all(np.log(s.high_h / s.low_h) < width for s in got.sources)


def test_few_sources_are_prior_driven_and_show_rivals() -> None:
    spells, _ = pool(np.random.default_rng(5), 3, 60, 0.2)
    got = fit_between(spells)
    assert got.prior_driven
    assert [c.code for c in got.cautions] == ["prior-driven"]
    widths = [np.log(r.life_high_h / r.life_low_h) for r in (got.rivals[0], got.new, got.rivals[1])]
    assert widths == sorted(widths)
    assert got.rivals[0].prior_tau == pytest.approx(0.5 * got.new.prior_tau)


def test_a_source_without_failures_has_no_scale_of_its_own_but_pulls_up() -> None:
    spells, _ = pool(np.random.default_rng(5), 4, 40, 0.1)
    clean = Spells.of(np.zeros(60), np.linspace(500, 2000, 60), np.zeros(60), source=["new"] * 60)
    got = fit_between(spells.join(clean))
    new = next(s for s in got.sources if s.name == "new")
    assert (new.alone_h, new.kept) == (None, None)
    assert new.scale_h > got.middle_h


def test_hours_scale() -> None:
    spells, _ = pool(np.random.default_rng(8), 4, 30, 0.3)
    ten = spells.replace(
        **{f: 10 * getattr(spells, f) for f in ("entry", "exit_lower", "exit_upper")}
    )
    a, b = fit_between(spells, rivals=()), fit_between(ten, rivals=())
    assert b.new.life_low_h == pytest.approx(10 * a.new.life_low_h, rel=1e-8)
    assert b.tau == pytest.approx(a.tau, rel=1e-8)


def test_too_little_to_learn_a_spread() -> None:
    spells, _ = pool(np.random.default_rng(8), 2, 30, 0.3)
    one = spells.replace(source=np.full(60, "only"))
    with pytest.raises(FitError, match="1 groups by source"):
        fit_between(one)
    none = spells.replace(event=np.where(spells.source == "s0", 0, spells.event))
    with pytest.raises(FitError, match="at least two"):
        fit_between(none)


def test_weighted_quantiles() -> None:
    v, w = np.array([3.0, 1.0, 2.0, 2.0]), np.array([1.0, 1.0, 1.0, 1.0])
    # Middles of the weights of 1, 2 (twice), 3: 1/8, 1/2, 7/8.
    assert weighted_quantile(v, w, [1 / 8, 0.5, 7 / 8]) == pytest.approx([1, 2, 3])
    assert weighted_quantile(v, w, [5 / 16]) == pytest.approx([1.5])
