"""Refits by the thousand: one matrix product, then Newton's method on all of them at once.

The Weibull score needs only weighted sums of d, d log t and ``A(b) = sum w (t^b - e^b)``. The
terms of A at a few dozen Chebyshev nodes in log b form a matrix P (engines x nodes); a block of
weights W (draws x engines) turns it into every draw's A at the nodes, whose log is smooth in log
b. What remains is one scalar equation a draw. A root that leaves the nodes' range is found by a
direct fit instead.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.bands.likelihood.family_rows import broadcast_hazard_sum
from fleetstats.bands.likelihood.power import series_at, series_matrix
from fleetstats.bands.resampling.limit_law import takes_limit
from fleetstats.bands.resampling.panels import NODES, PANEL
from fleetstats.bands.resampling.refit_sums import Panels, panels_of, sum_blocks
from fleetstats.bands.resampling.weights import Resampling
from fleetstats.core.crew import Crew, crew_at_work, gather
from fleetstats.core.errors import BandError, FitError
from fleetstats.core.gate import SEED, an, counted, gate, one_of
from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Bools, Matrix, Value, value
from fleetstats.spells.spells import Spells
from fleetstats.survival.distribution import DISTRIBUTIONS
from fleetstats.survival.lives import LIVES
from fleetstats.survival.weibull.fit_weibull import solve_weibull

SOLVED_TOGETHER = 8
"""Blocks of draws solved at once. The last bits of a root can depend on its neighbours, so workers
are given whole groups of so many blocks."""

MOST_TASKS = 16
"""Parts into which draws are cut for other workers; each computes the nodes' terms anew."""

WORTH_SHARING = 50_000_000
"""Resamples times rows from which others are asked: some ten seconds of one processor, beside two
for each process to begin."""

STEPS = 12
TOLERANCE = 1e-12


@value
class Draws(Value):
    """Refitted parameters, one row a resample.

    Parameters
    ----------
    family : str
        Key of `DISTRIBUTIONS`.
    names : tuple of str
        Names of the parameters.
    estimate : (B, k) float
        Natural parameters; NaN where a resample has no maximum.
    converged : (B,) bool
    scheme : str
        How the weights were drawn.
    seed : int
    n_direct : int
        Resamples whose root left the series' range and were fitted directly.
    """

    family: str
    names: tuple[str, ...]
    estimate: Matrix
    converged: Bools
    scheme: str
    seed: int
    n_direct: int = 0

    def __len__(self) -> int:
        return len(self.converged)

    def parameter(self, name: str) -> Array:
        """Return (B,) draws of one natural parameter."""
        if name not in self.names:
            raise BandError(
                f"A {self.family} has no parameter '{name}'.", f"It has {', '.join(self.names)}."
            )
        return np.asarray(self.estimate[:, self.names.index(name)])

    @property
    def shape(self) -> Array:
        """Return (B,) shapes."""
        return self.parameter("shape")

    @property
    def scale_h(self) -> Array:
        """Return (B,) scales in hours."""
        return self.parameter("scale_h")

    @property
    def kept(self) -> Draws:
        """Return only the resamples that have a maximum."""
        return Draws(
            family=self.family,
            names=self.names,
            estimate=self.estimate[self.converged],
            converged=self.converged[self.converged],
            scheme=self.scheme,
            seed=self.seed,
            n_direct=self.n_direct,
        )

    def _columns(self) -> Array:
        return np.asarray(self.estimate.T[:, :, None])

    def life(self, p: float) -> Array:
        """Return (B,) hours by which a share `p` has failed."""
        if self.family == "gamma":
            from scipy.special import gammaincinv

            return np.asarray(self.scale_h * gammaincinv(self.shape, p))
        if self.family == "exponential":
            return np.asarray(-self.scale_h * np.log1p(-p))
        q = np.array([p])
        return np.asarray(DISTRIBUTIONS[self.family].quantile(q, self._columns())[:, 0])

    def cumulative_hazard(self, hours: ArrayLike) -> Array:
        """Return (B, m) minus log reliability at `hours` (m,)."""
        t = np.atleast_1d(np.asarray(hours, dtype=np.float64))
        return broadcast_hazard_sum(self.family, t[None, :], self._columns())

    def reliability(self, hours: ArrayLike) -> Array:
        """Return (B, m) chances of reaching `hours` (m,)."""
        return np.exp(-self.cumulative_hazard(hours))

    def conditional_failure(self, hours: ArrayLike, width_h: float) -> Array:
        """Return (B, m) chances of failing within `width_h` after surviving to `hours` (m,)."""
        t = np.atleast_1d(np.asarray(hours, dtype=np.float64))
        rise = self.cumulative_hazard(t + width_h) - self.cumulative_hazard(t)
        return np.asarray(-np.expm1(-np.maximum(rise, 0.0)))


@gate(
    spells=LIVES,
    n=counted(1),
    seed=SEED,
    scheme=one_of("fractional", "poisson"),
    family=one_of(*DISTRIBUTIONS),
    crew=an(Crew, "Make one by Crew(n).").or_none,
)
def refit(
    spells: Spells,
    n: int,
    *,
    seed: int,
    scheme: str = "fractional",
    family: str = "weibull",
    crew: Crew | None = None,
) -> Draws:
    """Refit resampled engines `n` times.

    Parameters
    ----------
    spells : Spells
        All rows of one engine share a weight. A row that stands for several lives draws as many.
    n : int
        Resamples.
    seed : int
        The draws depend on it, the scheme and the spells alone, not on how memory is cut or on who
        does the work.
    scheme : {"fractional", "poisson"}
        Exponential weights, or whole ones that may lose every failure.
    family : str
        Key of `DISTRIBUTIONS`.
    crew : Crew, optional
        Who refits; when left out whoever is at work here, from `WORTH_SHARING` on.

    Returns
    -------
    Draws
        `n` rows.

    Raises
    ------
    NoMaximum
        If the spells themselves have no maximum.
    BandError
        If scheme or family is unknown.

    Notes
    -----
    From 20,000 engines on the weighted sums of a Weibull's fractional weights are drawn from the
    normal law that they tend to, unless a few old engines rule them: the doubt is the same, and a
    draw costs no more than in a small fleet.

    References
    ----------
    Xu, Gotwalt, Hong, King & Meeker 2020, for both weight schemes.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(100, 2100, 50), [0, 0, 0, 1] * 10)
    >>> draws = fs.resample_fits(lives, 50, seed=1)
    >>> draws.names, draws.estimate.shape, draws.seed
    (('shape', 'scale_h'), (50, 2), 1)
    """
    if family not in DISTRIBUTIONS:
        known = ", ".join(DISTRIBUTIONS)
        raise BandError(f"Family '{family}' is not known.", f"Use one of {known}.")
    plan = Resampling.of_spells(spells, n, seed=seed, scheme=scheme)
    exact = family == "weibull" and not bool(spells.interval_known.any())
    many_weights = n * len(spells) >= WORTH_SHARING and not (exact and takes_limit(plan))
    if crew is None and many_weights:
        crew = crew_at_work()
    many = crew is not None and not crew.alone
    groups = -(-plan.n_blocks // SOLVED_TOGETHER)
    step = SOLVED_TOGETHER * (-(-groups // MOST_TASKS) if many else groups)
    panels = panels_of(spells) if exact else None
    tasks = [
        _Share(
            spells=spells,
            plan=plan,
            family=family,
            first=i,
            stop=min(i + step, plan.n_blocks),
            panels=panels,
        )
        for i in range(0, plan.n_blocks, step)
    ]
    parts = gather(_refit_share, tasks, crew)
    return Draws(
        family=family,
        names=DISTRIBUTIONS[family].names,
        estimate=np.concatenate([p[0] for p in parts]),
        converged=np.concatenate([p[1] for p in parts]),
        scheme=scheme,
        seed=seed,
        n_direct=sum(p[2] for p in parts),
    )


def refit_once(spells: Spells, n: int, *, seed: int, family: str = "weibull") -> Draws:
    """Return `refit` with fractional weights, made once for a fleet: chapters ask for the same."""
    key = ("refits", n, seed, family)
    return kept(spells, key, lambda: refit(spells, n, seed=seed, family=family))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Share:
    """Blocks ``first`` to ``stop`` of the draws, for one worker.

    `panels`, of exact lives and a Weibull, hang on what a fleet was made of, which no worker knows.
    """

    spells: Spells
    plan: Resampling
    family: str
    first: int
    stop: int
    panels: Panels | None = None


def _refit_share(share: _Share) -> tuple[Array, Array, int]:
    """Return estimates, whether each converged, and how many were fitted directly."""
    spells, plan = share.spells, share.plan
    blocks = range(share.first, share.stop)
    if share.family == "weibull" and bool(spells.interval_known.any()):
        from fleetstats.bands.resampling.refit_gaps import refit_between_checks

        return refit_between_checks(spells, plan, blocks)
    if share.family != "weibull":
        from fleetstats.bands.resampling.refit_newton import refit_by_newton

        return *refit_by_newton(spells, plan, share.family, blocks), 0
    panels = share.panels or panels_of(spells)
    ref, middles = panels.reference_h, panels.middles
    totals = sum_blocks(spells, plan, panels, blocks)
    size = SOLVED_TOGETHER * (plan.draws_of(0).stop or 1)
    solved = [_solve(totals[i : i + size], middles) for i in range(0, len(totals), size)]
    theta, scale_rate, inside = (np.concatenate(x) for x in zip(*solved, strict=True))
    with np.errstate(over="ignore"):
        shape = np.exp(theta)
    scale = ref * np.exp(-scale_rate / shape)
    done = inside.copy()
    first = plan.draws_of(share.first).start
    direct = np.flatnonzero(~inside)
    for block in blocks if len(direct) else ():
        rows = plan.draws_of(block)
        mine = direct[(direct + first >= rows.start) & (direct + first < rows.stop)]
        weights = plan.weights_of(block)[mine + first - rows.start] if len(mine) else ()
        for i, w in zip(mine, weights, strict=True):
            shape[i], scale[i], done[i] = _direct(spells, w, panels.shape)
    return np.column_stack([shape, scale]), done, len(direct)


def _direct(spells: Spells, weight: Array, start: float) -> tuple[float, float, bool]:
    keep = weight > 0.0
    try:
        s = solve_weibull(
            spells.entry[keep],
            spells.exit_upper[keep],
            spells.failed[keep],
            weight[keep],
            start_shape=start,
        )
    except FitError:
        return float("nan"), float("nan"), False
    return s.shape, s.scale_h, s.converged


def _solve(totals: Array, middles: Array) -> tuple[Array, Array, Array]:
    r, s = totals[:, -2], totals[:, -1]
    n = len(r)
    theta, rate = np.full(n, np.nan), np.full(n, np.nan)
    inside = np.zeros(n, dtype=bool)
    alive = r > 0.0
    mean = np.where(alive, s, 0.0) / np.where(alive, r, 1.0)
    k = np.arange(NODES)
    at_high, at_low = k**2, k**2 * (-1.0) ** (k + 1)
    for j, middle in enumerate(middles):
        part = totals[:, j * NODES : (j + 1) * NODES]
        good = alive & ~inside & (part.min(axis=1) > 0.0)
        coef = np.log(np.where(good[:, None], part, 1.0)) @ series_matrix(NODES).T
        # the score 1 + b mean(log t) - d log A / d log b falls through 0 at most once
        low = 1.0 + np.exp(middle - PANEL) * mean - coef @ at_low / PANEL
        high = 1.0 + np.exp(middle + PANEL) * mean - coef @ at_high / PANEL
        mine = np.flatnonzero(good & (low > 0.0) & (high <= 0.0))
        if not len(mine):
            continue
        start = low[mine] / (low[mine] - high[mine]) * 2.0 - 1.0
        x, log_a = _roots(coef[mine], mean[mine], start, middle)
        theta[mine] = middle + PANEL * x
        rate[mine] = np.log(r[mine]) - log_a
        inside[mine] = True
    return theta, rate, inside


def _roots(coef: Array, mean: Array, x: Array, middle: float) -> tuple[Array, Array]:
    """Return the root of each draw's score within a panel, and log A there."""
    low, high = np.full_like(x, -1.0), np.full_like(x, 1.0)
    for _ in range(STEPS):
        _, slope, second = series_at(coef, x, derivatives=2)
        b_mean = np.exp(middle + PANEL * x) * mean
        value = 1.0 + b_mean - slope / PANEL
        bend = b_mean * PANEL - second / PANEL
        low, high = np.where(value > 0.0, x, low), np.where(value > 0.0, high, x)
        with np.errstate(divide="ignore", invalid="ignore"):
            new = x - value / bend
        new = np.where((new >= low) & (new <= high), new, 0.5 * (low + high))
        moved = np.abs(new - x).max()
        x = new
        if moved < TOLERANCE:
            break
    return x, series_at(coef, x)[0]
