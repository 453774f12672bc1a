"""How many nobody told: published examples, other libraries, and counting by hand."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy import stats

from fleetstats.core.errors import FitError
from fleetstats.survival.counting.capture import (
    _law_of_seen,
    count_patterns,
    estimate_unseen,
    models_of,
)

TWO = ((0,), (1,))

# Hook, Albright & Cross (1980), spina bifida in upstate New York, 1969 to 1974: birth certificates,
# death certificates, medical rehabilitation files. Counts from memory; their sums agree with the
# abstract: 68, 27 and 25 % of the 758 cases estimated are on each list, some 80 % on any.
SPINA_BIFIDA = {
    (0, 0, 1): 60,
    (0, 1, 0): 49,
    (0, 1, 1): 4,
    (1, 0, 0): 247,
    (1, 0, 1): 112,
    (1, 1, 0): 142,
    (1, 1, 1): 12,
}


def table(cells: dict[tuple[int, ...], int]) -> np.ndarray:
    out = np.zeros((2,) * len(next(iter(cells))), dtype=np.int64)
    for told, n in cells.items():
        out[told] = n
    return out


def pair(both: int, first: int, second: int) -> np.ndarray:
    return table({(1, 1): both, (1, 0): first, (0, 1): second})


def test_chapman_on_the_turtles_that_everybody_quotes() -> None:
    """10 marked, 15 caught, 5 of these marked: 30 by the simple ratio, 28 by Chapman (memory)."""
    u = estimate_unseen(pair(5, 5, 10), TWO, level=0.95)
    assert u.estimate is not None
    assert u.spread is not None
    assert u.likeliest is not None
    assert u.estimate + 20 == pytest.approx(11 * 16 / 6 - 1)
    assert u.likeliest + 20 == pytest.approx(30.0)
    # Seber 1970, from memory: (n1+1)(n2+1)(n1-m)(n2-m) / ((m+1)^2 (m+2))
    assert u.spread**2 == pytest.approx(11 * 16 * 5 * 10 / (36 * 7))


def test_three_lists_of_spina_bifida() -> None:
    """The abstract's rates, 0.85 and 0.88 per 1000 births, are as 731 to 758 cases."""
    t = table(SPINA_BIFIDA)
    assert t.sum() == 626
    found = {m: estimate_unseen(t, m, level=0.95) for m in models_of(3)}
    rehabilitation_after_death = found[((1, 2), (0,))]
    assert rehabilitation_after_death.likeliest is not None
    assert 626 + rehabilitation_after_death.likeliest == pytest.approx(513 * 379 / 266)
    assert (626 + rehabilitation_after_death.likeliest) / 758 == pytest.approx(
        0.85 / 0.88, abs=5e-3
    )
    best = min(found, key=lambda m: found[m].aicc or np.inf)
    assert best == ((1, 2), (0,)), "the dependence that the authors observed"


@pytest.mark.parametrize("blocks", models_of(3))
def test_the_maximum_is_that_of_a_poisson_regression(blocks: tuple[tuple[int, ...], ...]) -> None:
    """statsmodels fits the log-linear model to the seven cells; its constant is the eighth."""
    sm = pytest.importorskip("statsmodels.api")
    t = table(SPINA_BIFIDA)
    cells = list(SPINA_BIFIDA)
    x = [[1.0, *c] for c in cells]
    for b in blocks:
        if len(b) == 2:
            x = [[*row, float(c[b[0]] * c[b[1]])] for row, c in zip(x, cells, strict=True)]
    fit = sm.GLM([SPINA_BIFIDA[c] for c in cells], x, family=sm.families.Poisson()).fit(tol=1e-12)
    ours = estimate_unseen(t, blocks, level=0.95)
    assert ours.likeliest == pytest.approx(np.exp(fit.params[0]), rel=1e-6)
    # log n! of the cells and the correction for small samples aside, the criteria differ alike
    k, n = len(x[0]), 626
    logs = sum(float(stats.poisson.logpmf(v, v)) + v - v * np.log(v) for v in SPINA_BIFIDA.values())
    assert ours.aicc == pytest.approx(fit.aic + 2 * logs + 2 * k * (k + 1) / (n - k - 1), rel=1e-6)


def test_the_law_of_two_is_hypergeometric_and_with_an_odds_ratio_fishers() -> None:
    for there, a, b in ((12, 5, 7), (30, 4, 9), (9, 8, 3)):
        r = np.arange(a + b + 1)
        ours = _law_of_seen((a, b), a + b, there, 1.0)
        assert ours == pytest.approx(stats.hypergeom.pmf(a + b - r, there, a, b), abs=1e-12)
        ours = _law_of_seen((a, b), a + b, there, 3.0)
        theirs = stats.nchypergeom_fisher(there, a, b, 3.0).pmf(a + b - r)
        assert ours == pytest.approx(theirs, abs=1e-10)


def test_the_law_of_three_by_counting_all_ways() -> None:
    """Of 5, one tells 2, one 3 and one 2: each choice of those is as likely as any other."""
    ways = [list(itertools.combinations(range(5), k)) for k in (2, 3, 2)]
    seen = [len(set(a) | set(b) | set(c)) for a, b, c in itertools.product(*ways)]
    want = np.bincount(seen, minlength=8)[:8] / len(seen)
    assert _law_of_seen((2, 3, 2), 7, 5, 1.0) == pytest.approx(want, abs=1e-12)


@pytest.mark.parametrize("cells", [(5, 3, 2), (2, 4, 1), (9, 0, 3), (1, 0, 0)])
@pytest.mark.parametrize("odds_ratio", [0.5, 1.0, 4.0])
def test_limits_by_trying_every_number(cells: tuple[int, int, int], odds_ratio: float) -> None:
    """Each number whose overlap is no rare chance by the other library's law, and no other."""
    both, first, second = cells
    seen = sum(cells)
    u = estimate_unseen(pair(*cells), TWO, level=0.93, odds_ratio=odds_ratio)
    inside = []
    for more in range(400):
        law = stats.nchypergeom_fisher(seen + more, both + first, both + second, odds_ratio)
        above = law.sf(both) + 0.5 * law.pmf(both)
        if 0.035 < above < 0.965:
            inside.append(more)
    assert inside, "else the test says nothing"
    assert (u.low, u.high) == (inside[0], inside[-1])


def test_no_failure_in_common_has_no_upper_limit() -> None:
    u = estimate_unseen(pair(0, 4, 3), TWO, level=0.9)
    assert u.estimate == 12.0
    assert u.high is None
    assert u.low is not None
    assert u.low > 0


def test_a_list_that_told_nothing_says_nothing_of_the_other() -> None:
    u = estimate_unseen(pair(0, 4, 0), TWO, level=0.9)
    assert (u.estimate, u.low, u.high) == (None, None, None)


def test_more_dependence_means_more_untold() -> None:
    rows = [
        estimate_unseen(pair(6, 4, 3), TWO, level=0.9, odds_ratio=r) for r in (0.5, 1.0, 2.0, 4.0)
    ]
    for a, b in itertools.pairwise(rows):
        assert a.estimate is not None
        assert b.estimate is not None
        assert b.estimate == pytest.approx(2.0 * a.estimate)
        assert a.high is not None
        assert b.high is not None
        assert b.high > a.high


def test_a_failure_that_nobody_told_cannot_be_counted() -> None:
    with pytest.raises(FitError):
        count_patterns(np.array([[True, False], [False, False]]))
