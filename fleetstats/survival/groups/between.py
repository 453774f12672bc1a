"""How much do sources differ, and what may a source not yet seen be like?

Lives of all sources share one shape. Each source has its own scale, and the log scales spread
normally around a middle with standard deviation ``tau``. With few sources the records say little of
``tau``: its prior is stated, and the answer is given under two rival priors beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.core.gate import (
    HOURS_EACH,
    LEVEL,
    POSITIVE,
    POSITIVES_ANY,
    PROBABILITY,
    gate,
    one_of,
)
from fleetstats.core.value import Value, value
from fleetstats.spells import Spells
from fleetstats.survival.groups.between_grid import Grid, Source, integrate, prepare_source
from fleetstats.survival.lives import LIVES
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import FEW_SOURCES

PRIOR_TAU = 0.5
"""Scale of the half-normal prior of tau: half of its weight below 0.34, where two sources in three
lie within a factor 1.4 of the middle. A choice of this package: at this scale the band for a new
source held its level in simulated pools (tests/coverage/test_new_source.py)."""

RIVALS = (0.5, 2.0)
"""Factors on the prior scale for the rival answers."""


FEWEST_FAILURES = 3


@value
class SourceScale(Value):
    """One source, alone and drawn towards the others.

    `alone_h` is its own scale under the common shape, None without failures (then there is no
    upper limit). `scale_h`, `low_h`, `high_h` are posterior median and limits. `kept` is the share
    of its own distance from the middle that it keeps.
    """

    name: str
    n: int
    n_failed: float
    exposure_h: float
    alone_h: float | None
    scale_h: float
    low_h: float
    high_h: float
    kept: float | None


@value
class NewSource(Value):
    """A source not yet seen, under one prior scale of tau: limits of its scale and B-life."""

    prior_tau: float
    tau: float
    scale_h: float
    scale_low_h: float
    scale_high_h: float
    life_h: float
    life_low_h: float
    life_high_h: float


@value
class NewSourceChance(Value):
    """Chance of failure of an engine of a source not yet seen.

    `failure` is the posterior median of the source's chance of failure by `hours` since new,
    `failure_low` and `failure_high` its limits at the level of the fit, over all such sources.
    """

    hours: float
    failure: float
    failure_low: float
    failure_high: float


@value
class Between(Value):
    """Spread between sources, each source shrunken, and a new source.

    Parameters
    ----------
    by : str
        The label that makes sources.
    p : float
        Share failed by the B-life.
    shape, shape_low, shape_high, middle_h, tau, tau_low, tau_high : float
        Posterior medians and limits at `level`.
    sources : tuple of SourceScale
    new : NewSource
        Under the chosen prior.
    rivals : tuple of NewSource
        Under the rival priors.
    chances : tuple of NewSourceChance
        A new source's chance of failure by each of the hours asked for, under the chosen prior.
    prior_driven : bool
        Fewer than five sources with failures, or the B-life's lower limit moves by more than
        10 % between the rivals.
    """

    _lines: ClassVar[str] = "sources"

    by: str
    p: float
    level: float
    shape: float
    shape_low: float
    shape_high: float
    middle_h: float
    tau: float
    tau_low: float
    tau_high: float
    sources: tuple[SourceScale, ...]
    new: NewSource
    rivals: tuple[NewSource, ...]
    prior_driven: bool
    chances: tuple[NewSourceChance, ...] = ()
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        n = self.new
        return (
            f"{len(self.sources)} sources, shape {self.shape:.2f}; spread of log life "
            f"{self.tau:.2f} ({self.tau_low:.2f} to {self.tau_high:.2f}); a new source's "
            f"B{100 * self.p:g} {n.life_h:,.0f} h ({n.life_low_h:,.0f} to {n.life_high_h:,.0f}, "
            f"{100 * self.level:g} %)"
        )


def _groups(spells: Spells, by: str) -> tuple[list[str], list[Spells]]:
    labels = getattr(spells, by)
    names = np.unique(labels).tolist()
    return names, [spells.select(labels == name) for name in names]


def _disagree(lows_h: list[float]) -> bool:
    """Return whether rival priors move the lower edge of the life by more than a tenth."""
    return bool(lows_h and max(lows_h) / min(lows_h) > 1.1)


@gate(
    spells=LIVES,
    by=one_of("source", "build"),
    level=LEVEL,
    p=PROBABILITY,
    prior_tau=POSITIVE,
    prior_shape=POSITIVES_ANY,
    rivals=POSITIVES_ANY,
    hours=HOURS_EACH,
)
def fit_between(
    spells: Spells,
    *,
    by: str = "source",
    level: float = 0.90,
    p: float = 0.10,
    prior_tau: float = PRIOR_TAU,
    prior_shape: tuple[float, float] = (2.0, 0.6),
    rivals: tuple[float, ...] = RIVALS,
    hours: Sequence[float] = (),
) -> Between:
    """Fit a random scale over sources and say what a new source may be like.

    Parameters
    ----------
    spells : Spells
        Lives of all sources.
    by : {"source", "build"}
        Label that makes the groups.
    level : float
        Two-sided posterior probability of the limits.
    p : float
        Share failed by the B-life asked for.
    prior_tau : float
        Scale of the half-normal prior of tau.
    prior_shape : (float, float)
        Median and log standard deviation of the lognormal prior of the shape.
    rivals : tuple of float
        Factors on `prior_tau` for the rival answers.
    hours : sequence of float
        Hours since new by which a new source's chance of failure is asked for.

    Returns
    -------
    Between
        Spread between sources, each source drawn to the middle, and what a new one may be like.

    Raises
    ------
    FitError
        With fewer than two sources, fewer than three failures, or failures in one source only.

    Notes
    -----
    The scale of each source is integrated out by Gauss-Hermite quadrature centred on its own
    conditional maximum; shape, middle and tau by a grid that follows the likelihood. The middle
    has a flat prior in log hours.

    References
    ----------
    .. [1] Meeker, W. Q., Escobar, L. A. and Pascual, F. G. (2021). Statistical Methods for
       Reliability Data, 2nd ed., chapter 11 (hierarchical models, Bayesian limits).
    .. [2] Gelman, A. (2006). Prior distributions for variance parameters in hierarchical models.
       Bayesian Analysis 1, 515-534 (half-normal family, few groups).
    .. [3] Liu, Q. and Pierce, D. A. (1994). A note on Gauss-Hermite quadrature. Biometrika 81,
       624-629.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(100, 3100, 50), [0, 0, 1] * 20, source=list("pqrst") * 12)
    >>> print(fs.fit_between(lives))
    5 sources, shape 1.83; spread of log life 0.12 (0.02 to 0.41); a new source's B10 964 ...
    """
    names, groups = _groups(spells, by)
    failing = _count_failing(groups, by)
    unit = spells.oldest_h
    sources = [prepare_source(g, unit) for g in groups]
    grid = integrate(sources, prior_tau=prior_tau, prior_shape=prior_shape)
    new = _new_source(grid, unit, level, p, prior_tau)
    others = tuple(
        _new_source(
            integrate(sources, prior_tau=f * prior_tau, prior_shape=prior_shape),
            unit,
            level,
            p,
            f * prior_tau,
        )
        for f in rivals
    )
    tail = 0.5 * (1.0 - level)
    shape = np.exp(grid.shape_quantile([tail, 0.5, 1.0 - tail]))
    tau = grid.tau_quantile([tail, 0.5, 1.0 - tail])
    driven = failing < FEW_SOURCES or _disagree([n.life_low_h for n in others])
    middle = float(grid.middle_quantile([0.5])[0])
    return Between(
        by=by,
        p=p,
        level=level,
        shape=float(shape[1]),
        shape_low=float(shape[0]),
        shape_high=float(shape[2]),
        middle_h=float(unit * np.exp(middle)),
        tau=float(tau[1]),
        tau_low=float(tau[0]),
        tau_high=float(tau[2]),
        sources=tuple(
            _shrunken(
                grid, i, names[i], groups[i], sources[i], unit, level, middle, float(shape[1])
            )
            for i in range(len(groups))
        ),
        new=new,
        rivals=others,
        prior_driven=driven,
        chances=tuple(_chance(grid, unit, level, h) for h in hours),
        cautions=_cautions(driven, failing, prior_tau),
    )


def _count_failing(groups: list[Spells], by: str) -> int:
    """Return how many groups have failures; raises FitError where no spread can be told."""
    failing, failed = sum(g.n_failed > 0 for g in groups), sum(g.n_failed for g in groups)
    if len(groups) < 2 or failing < 2 or failed < FEWEST_FAILURES:
        raise FitError(
            f"{len(groups)} groups by {by}, {failing} of them with failures, "
            f"{failed:g} failures in all.",
            f"The spread between groups needs failures in at least two and {FEWEST_FAILURES} in "
            "all.",
        )
    return failing


def _chance(grid: Grid, unit: float, level: float, hours: float) -> NewSourceChance:
    tail = 0.5 * (1.0 - level)
    low, mid, high = grid.chance_quantile([tail, 0.5, 1.0 - tail], float(np.log(hours / unit)))
    return NewSourceChance(
        hours=hours, failure=float(mid), failure_low=float(low), failure_high=float(high)
    )


def _new_source(grid: Grid, unit: float, level: float, p: float, prior_tau: float) -> NewSource:
    tail = 0.5 * (1.0 - level)
    to_life = float(np.log(-np.log1p(-p)))
    at = [tail, 0.5, 1.0 - tail]
    scale = unit * np.exp(grid.predictive_quantile(at, 0.0))
    life = unit * np.exp(grid.predictive_quantile(at, to_life))
    return NewSource(
        prior_tau=prior_tau,
        tau=float(grid.tau_quantile([0.5])[0]),
        scale_h=float(scale[1]),
        scale_low_h=float(scale[0]),
        scale_high_h=float(scale[2]),
        life_h=float(life[1]),
        life_low_h=float(life[0]),
        life_high_h=float(life[2]),
    )


def _shrunken(
    grid: Grid,
    i: int,
    name: str,
    group: Spells,
    source: Source,
    unit: float,
    level: float,
    middle: float,
    shape: float,
) -> SourceScale:
    tail = 0.5 * (1.0 - level)
    q = grid.source_quantile(i, [tail, 0.5, 1.0 - tail])
    alone = source.best_log_scale(shape)
    kept = None
    if alone is not None and abs(alone - middle) > 1e-9:
        kept = float(np.clip((q[1] - middle) / (alone - middle), 0.0, 1.0))
    low, mid, high = (float(v) for v in unit * np.exp(q))
    return SourceScale(
        name=name,
        n=round(float(group.weight.sum())),
        n_failed=group.n_failed,
        exposure_h=group.exposure_h,
        alone_h=None if alone is None else float(unit * np.exp(alone)),
        scale_h=mid,
        low_h=low,
        high_h=high,
        kept=kept,
    )


def _cautions(driven: bool, failing: int, prior_tau: float) -> tuple[Caution, ...]:
    if not driven:
        return ()
    return (
        caution(
            "prior-driven/sources",
            value=f"{failing} sources with failures, prior scale {prior_tau:g}",
            limit=f"{FEW_SOURCES} sources",
        ),
    )
