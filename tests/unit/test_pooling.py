"""May groups be pooled: verdicts against a margin, tests that permit nothing, what would tell."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, special, stats

from fleetstats.core.errors import ArgumentError, FitError
from fleetstats.spells import Spells
from fleetstats.survival.groups.groups import compare_groups, split_groups
from fleetstats.survival.groups.pooling import compare_scales, share_of_error
from fleetstats.survival.groups.to_tell import failures_to_tell
from fleetstats.survival.weibull.fit_weibull import fit_weibull, weibull_log_likelihood
from fleetstats.survival.weibull.joint_region import DIRECTIONS, _Rows, estimate_joint_region

AB = ("A", "B")


def fleet(rng, n: int, scale: float, shape: float = 2.5, stop_h: float = 2000.0) -> Spells:
    life = scale * rng.weibull(shape, n)
    entry = np.where(rng.random(n) < 0.3, 0.4 * np.minimum(life, stop_h), 0.0)
    return Spells.of(entry, np.minimum(life, stop_h), life <= stop_h)


def idle(n: int = 50, top: float = 1000.0) -> Spells:
    return Spells.of(np.zeros(n), np.linspace(100, top, n), np.zeros(n))


def test_large_groups_are_told_apart_or_held_alike() -> None:
    rng = np.random.default_rng(1)
    a, b, far = (fleet(rng, 700, s) for s in (1500, 1500, 2400))
    alike = compare_scales(a, b, names=AB)
    assert (alike.verdict, alike.method, alike.needed) == ("inside", "profile", None)
    assert 0.8 <= alike.low < alike.ratio < alike.high <= 1.25
    other = compare_scales(far, a, names=AB)
    assert other.verdict == "outside"
    assert other.low > 1.25
    # The question is the same the other way about.
    back = compare_scales(a, far, names=AB)
    assert [back.low, back.high] == pytest.approx([1 / other.high, 1 / other.low], rel=1e-6)


def test_no_difference_shown_is_not_alike() -> None:
    """Eight failures a side of one truth: a test finds nothing, and the verdict is cannot tell."""
    rng = np.random.default_rng(4)
    a, b = fleet(rng, 30, 3000), fleet(rng, 30, 3000)
    joined = a.replace(source=np.full(30, "A")).join(b.replace(source=np.full(30, "B")))
    tests = compare_groups(joined, "source").tests
    assert all(t.p_value > 0.1 for t in tests)
    got = compare_scales(a, b, names=AB)
    assert got.verdict == "cannot-tell"
    assert got.needed.failures_each > max(a.n_failed, b.n_failed)
    assert "cannot tell" in got.sentence
    assert "about" in got.needed.sentence


def test_profile_band_by_another_road() -> None:
    rng = np.random.default_rng(7)
    a, b = fleet(rng, 40, 1500), fleet(rng, 60, 2000)
    got = compare_scales(a, b, names=AB, level=0.90)

    def best(log_ratio: float) -> float:
        def minus(v: np.ndarray) -> float:
            shape, scale = np.exp(v)
            total = 0.0
            for part, s in ((a, scale * np.exp(log_ratio)), (b, scale)):
                total += weibull_log_likelihood(
                    shape, s, part.entry, part.exit_lower, part.exit_upper, part.failed
                )
            return -total

        start = np.log([2.5, 1800.0])
        return -optimize.minimize(minus, start, method="Nelder-Mead",
                                  options={"xatol": 1e-8, "fatol": 1e-9}).fun  # fmt: skip

    peak = best(np.log(got.ratio))
    for edge in (got.low, got.high):
        assert 2 * (peak - best(np.log(edge))) == pytest.approx(1.6448536**2, rel=1e-4)


def test_zero_failures_against_some_has_one_edge() -> None:
    rng = np.random.default_rng(2)
    b = fleet(rng, 60, 1200)
    got = compare_scales(idle(), b, names=AB)
    assert got.ratio is None
    assert got.high is None
    assert got.low is not None
    back = compare_scales(b, idle(), names=AB)
    assert back.low is None
    assert back.high == pytest.approx(1 / got.low, rel=1e-5)
    assert "no upper limit" in got.sentence


def test_zero_against_zero_cannot_tell_and_says_what_would() -> None:
    got = compare_scales(idle(), idle(), names=AB)
    assert (got.ratio, got.low, got.high) == (None, None, None)
    assert got.verdict == "cannot-tell"
    assert got.needed.least
    # At the highest rate that the hours allow (3.0 failures in them), still so many hours.
    want = got.needed.failures_each * idle().exposure_h / -np.log(0.05)
    assert got.needed.hours_each == pytest.approx(want)
    assert "at least" in got.needed.sentence
    public = compare_scales(idle(), idle(), names=AB, public_rate_per_h=1e-4)
    assert public.needed.hours_each == pytest.approx(public.needed.failures_each * 1e4)
    assert "public rate" in public.needed.sentence


def test_few_failures_are_bounded_exactly_over_shapes() -> None:
    """One against two failures: Clopper-Pearson on the split, the widest over the shapes."""
    a = Spells.of(np.zeros(20), np.linspace(100, 1000, 20), np.arange(20) == 5)
    b = Spells.of(np.zeros(30), np.linspace(100, 1500, 30), np.isin(np.arange(30), [7, 20]))
    got = compare_scales(a, b, names=AB, shapes=(1.0, 3.0), level=0.90)
    assert got.method == "exact-over-shapes"
    edges = []
    split = stats.binomtest(1, 3).proportion_ci(0.90, method="exact")
    for shape in (1.0, 3.0):
        odds = (b.exit_upper**shape).sum() / (a.exit_upper**shape).sum()
        edges += [(p / (1 - p) * odds) ** (-1 / shape) for p in (split.low, split.high)]
    assert (got.low, got.high) == pytest.approx((min(edges), max(edges)))


@pytest.mark.parametrize("margin", [(1.1, 1.2), (0.8, 0.9), (0.8,), (0.8, 1.0)])
def test_a_margin_that_does_not_hold_1_needs_no_number_of_failures(
    margin: tuple[float, ...],
) -> None:
    with pytest.raises(ArgumentError, match="one below 1 and one above it"):
        failures_to_tell(2.0, margin)  # type: ignore[arg-type]


def test_failures_needed_give_the_chance_they_promise() -> None:
    """With that many failures each, two like groups are called alike four times in five."""
    shape = 2.0
    need = round(failures_to_tell(shape, (0.8, 1.25), level=0.90))
    rng = np.random.default_rng(3)
    inside = 0
    for _ in range(50):
        a, b = (Spells.of(np.zeros(need), 1000 * rng.weibull(shape, need), np.ones(need))
                for _ in range(2))  # fmt: skip
        inside += compare_scales(a, b, names=AB).verdict == "inside"
    # 0.80 with three binomial standard errors of 0.057.
    assert abs(inside / 50 - 0.80) < 0.17


@pytest.mark.parametrize("margin", [(1.1, 1.3), (0.8, 0.9)])
def test_a_margin_must_hold_one(margin: tuple[float, float]) -> None:
    with pytest.raises(FitError, match="margin"):
        compare_scales(idle(), idle(), names=AB, margin=margin)


def test_a_margin_is_of_numbers_above_0() -> None:
    with pytest.raises(ArgumentError, match=r"^margin\[0\] = 0\.0\. Give finite numbers above 0"):
        compare_scales(idle(), idle(), names=AB, margin=(0.0, 1.2))


def test_group_tests_are_differences_of_fits() -> None:
    rng = np.random.default_rng(9)
    parts = [fleet(rng, 40, s, b) for s, b in ((1200, 2.0), (1800, 2.0), (1500, 3.5))]
    spells = parts[0].replace(source=np.full(40, "a"))
    for name, p in zip("bc", parts[1:], strict=True):
        spells = spells.join(p.replace(source=np.full(40, name)))
    got = compare_groups(spells, "source")
    own = sum(fit_weibull(p).log_likelihood for p in parts)
    whole = fit_weibull(spells).log_likelihood
    shape, scale = got.tests
    assert shape.statistic + scale.statistic == pytest.approx(2 * (own - whole), rel=1e-8)
    assert (shape.df, scale.df) == (2, 2)
    assert scale.p_value == pytest.approx(special.chdtrc(2, scale.statistic))
    assert [g.name for g in got.groups] == ["a", "b", "c"]


def test_a_group_without_failures_is_kept_and_named() -> None:
    rng = np.random.default_rng(9)
    some = fleet(rng, 40, 1200).replace(source=np.full(40, "some"))
    spells = some.join(idle().replace(source=np.full(50, "none")))
    got = compare_groups(spells, "source")
    none = got.groups[0]
    assert (none.name, none.n_failed, none.common_scale_h) == ("none", 0, None)
    assert none.reason
    scale = got.tests[-1]
    assert scale.df == 1
    assert "none" in scale.note
    # Its scale runs away, so one Weibull for all stands against the fit of the other alone.
    want = 2 * (fit_weibull(some).log_likelihood - fit_weibull(spells).log_likelihood)
    assert scale.statistic == pytest.approx(want, rel=1e-7)


def test_blank_labels_are_a_group_and_one_group_is_refused() -> None:
    spells = idle(4).replace(source=["a", "", "a", ""])
    assert set(split_groups(spells, "source")) == {"a", "not given"}
    with pytest.raises(FitError, match="one group"):
        compare_groups(idle(), "source")
    with pytest.raises(FitError, match="colour"):
        split_groups(idle(), "colour")


def test_joint_region_lies_where_the_likelihood_has_fallen() -> None:
    rng = np.random.default_rng(5)
    s = fleet(rng, 50, 1500)
    checked = s.replace(
        exit_lower=np.where(s.failed, np.maximum(s.entry, s.exit_upper - 50), s.exit_upper)
    )
    fit = fit_weibull(checked)
    region = estimate_joint_region(fit, level=0.90)
    assert not region.is_open
    for shape, scale in list(zip(region.shape, region.scale_h, strict=True))[::12]:
        value = weibull_log_likelihood(
            shape, scale, checked.entry, checked.exit_lower, checked.exit_upper, checked.failed
        )
        # Two degrees of freedom: the quantile is -2 log(1 - level).
        assert 2 * (fit.log_likelihood - value) == pytest.approx(-2 * np.log(0.1), rel=1e-7)
    assert region.shape[0] == region.shape[-1]


def test_the_edge_of_a_region_is_reached_in_a_few_chords(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    plain = _Rows.log_likelihood

    def counted(self: _Rows, log_shape: np.ndarray, log_scale: np.ndarray) -> np.ndarray:
        asked.append(len(log_shape))
        return plain(self, log_shape, log_scale)

    monkeypatch.setattr(_Rows, "log_likelihood", counted)
    fit = fit_weibull(fleet(np.random.default_rng(6), 400, 1500))
    assert not estimate_joint_region(fit, level=0.90).is_open
    # some forty halvings would be needed for as many digits
    assert sum(asked) < 12 * DIRECTIONS


def test_the_more_groups_are_compared_the_more_one_has_to_stand_out() -> None:
    """One band beside the margin, asked by itself and as one of several (Bonferroni 1936)."""
    rng = np.random.default_rng(3)
    a, b = fleet(rng, 60, 1250), fleet(rng, 400, 2000)
    alone = compare_scales(a, b, names=AB)
    assert alone.verdict == "outside"
    assert (alone.apart_low, alone.apart_high) == (alone.low, alone.high)
    several = [compare_scales(a, b, names=AB, comparisons=m) for m in (3, 10, 10_000)]
    assert {(r.ratio, r.low, r.high) for r in several} == {(alone.ratio, alone.low, alone.high)}
    highs = [alone.high, *(r.apart_high for r in several)]
    assert highs == sorted(highs)
    for m, r in zip((3, 10, 10_000), several, strict=True):
        level = share_of_error(0.90, m)
        assert r.apart_level == level == pytest.approx(1.0 - 0.10 / m)
        there = compare_scales(a, b, names=AB, level=level)
        assert (r.apart_low, r.apart_high) == (there.low, there.high)
        assert (r.verdict == "outside") == (there.verdict == "outside")
    assert several[-1].verdict == "cannot-tell"
    assert "one may stand out by chance" in several[-1].sentence


def test_alike_is_asked_at_one_level_however_many_groups_there_are() -> None:
    """All groups must pass, so each test keeps its own level (Berger 1982)."""
    rng = np.random.default_rng(1)
    a, b = (fleet(rng, 700, s) for s in (1500, 1500))
    one, many = (compare_scales(a, b, names=AB, comparisons=m) for m in (1, 30))
    assert one.verdict == many.verdict == "inside"
    assert (one.low, one.high) == (many.low, many.high)
    assert many.apart_low is many.apart_high is None
