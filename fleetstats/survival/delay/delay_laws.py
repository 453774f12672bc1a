"""Laws of the warning time, laid side by side on the same records.

Records made at one interval say how many faults slip through it; how many would at another rests on
the law of the warning time as well, which they tell only weakly. So three laws are fitted: an
exponential, a Weibull with its shape free, and an exponential beside a share of faults that no
check ever sees. The last are taken to fail as they arise: with a steady rate of faults a delay
that nothing can see is no delay at all.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.value import Array, Value, value
from fleetstats.survival.delay.delay import DelayModel
from fleetstats.survival.delay.delay_likelihood import Prepared
from fleetstats.survival.delay.delay_profile import DelayPrior, Row
from fleetstats.survival.delay.delay_surface import ArrivalSurface

EXPONENTIAL, WEIBULL, UNSEEN = "exponential", "weibull", "unseen-share"
"""A constant chance of failing once a fault can be seen; a power of the hours; a share unseen."""
DELAY_SHAPES = ((0.85, 0.7, 0.6, 0.5), (1.2, 1.5, 1.9, 2.4, 3.1, 4.0))
"""Shapes of the warning time below and above 1, which is exponential; the ends are the bounds."""
UNSEEN_SHARES = (
    0.01, 0.02, 0.04, 0.06, 0.08, 0.10, 0.125, 0.15, 0.175, 0.20, 0.23, 0.26, 0.30, 0.34, 0.38,
    0.43, 0.48, 0.54, 0.60, 0.70, 0.80, 0.90,
)  # fmt: skip
"""Shares of faults that no check sees. The records hardly bound the share from below; from above
the share that failed does."""
NEAR = 16.0
"""Fall of twice the log-likelihood within which the grid of mean warning times is made finer."""

FAR = 30.0
"""Fall beyond which, once it falls, the grid is left."""
FINE = 1.3
"""Ratio of neighbours on that finer grid, at most."""


@value
class DelayLaw(Value):
    """One law of the warning time at its best values.

    `weight` is its share in the averaged estimate, from AICc with faults counted as data.
    """

    law: str
    model: DelayModel
    log_likelihood: float
    weight: float


def laws_of(shape: ArrayLike, no_warning: ArrayLike) -> Array:
    """Return the names of the laws (p,) that points of the grid belong to."""
    seen = np.where(np.equal(shape, 1.0), EXPONENTIAL, WEIBULL)
    return np.where(np.greater(no_warning, 0.0), UNSEEN, seen)


def other_laws(
    surface: ArrivalSurface, means: Array, detection: float, laws: tuple[str, ...],
    prior: DelayPrior | None,
) -> list[Row]:  # fmt: skip
    """Profile the laws beside the exponential over mean warning times.

    Parameters
    ----------
    surface : ArrivalSurface
        Laid about the exponential's best point.
    means : (g,) float
        Mean warning times, even in log.
    detection : float
        Chance that a check finds a fault that is there.
    laws : tuple of str
        Of `WEIBULL` and `UNSEEN`.
    prior : DelayPrior or None
        Adds its log density.
    """
    rows: list[Row] = []
    if WEIBULL in laws:
        for shapes in DELAY_SHAPES:
            rows += _shapes(surface, means, detection, shapes, prior)
    if UNSEEN in laws:
        profile = partial(
            surface.rows, shape=1.0, detection=detection, no_warning=np.array(UNSEEN_SHARES),
            prior=prior,
        )  # fmt: skip
        here = {float(m): profile(float(m)) for m in means}
        _fill_gaps(here, surface.best[2], profile)
        if prior is None:
            here[math.inf] = profile(math.inf)
        rows += [r for found in here.values() for r in found]
    return rows


def _shapes(
    surface: ArrivalSurface, means: Array, detection: float, shapes: tuple[float, ...],
    prior: DelayPrior | None,
) -> list[Row]:  # fmt: skip
    """Profile Weibull shapes, each from the best mean warning time of the one before."""
    rows: list[Row] = []
    centre, best = surface.best[0], surface.best[2]
    for k in shapes:
        profile = partial(
            surface.rows, shape=k, detection=detection, no_warning=np.zeros(1), prior=prior
        )
        here = _walk(profile, means, centre, best)
        _fill_gaps(here, best, profile)
        found = [r for at in here.values() for r in at]
        centre = max(found, key=lambda r: r[2])[0] if found else centre
        rows += found
    return rows


def _walk(
    profile: Callable[[float], list[Row]], means: Array, centre: float, best: float
) -> dict[float, list[Row]]:
    """Profile outward from a mean warning time until the log-likelihood is far down.

    Going out it may rise first: the neighbouring shape's best mean is not this one's.
    """
    middle = int(np.argmin(np.abs(np.log(means) - math.log(min(centre, means[-1])))))
    here: dict[float, list[Row]] = {}
    for way in (range(middle, -1, -1), range(middle + 1, len(means))):
        last = -math.inf
        for i in way:
            here[float(means[i])] = rows = profile(float(means[i]))
            top = max((r[2] for r in rows), default=-math.inf)
            if top <= last and 2.0 * (best - top) > FAR:
                break
            last = top
    return here


def _fill_gaps(
    here: dict[float, list[Row]], best: float, profile: Callable[[float], list[Row]]
) -> None:
    """Halve the gaps beside each mean warning time that the records do not rule out."""
    while True:
        means = np.array(sorted(here))
        tops = np.array([max((r[2] for r in here[m]), default=-math.inf) for m in means])
        near = 2.0 * (max(best, float(tops.max())) - tops) < NEAR
        wide = (means[1:] > FINE * means[:-1]) & (near[:-1] | near[1:])
        if not wide.any():
            return
        for m in np.sqrt(means[:-1] * means[1:])[wide]:
            here[float(m)] = profile(float(m))


def weigh_laws(
    rows: list[Row], pre: Prepared, detection: float, n_faults: int, n_arrival: int
) -> tuple[DelayLaw, ...]:
    """Return each law at its best point, weighted by AICc, exponential first.

    AICc = ``-2 log L + 2 p + 2 p (p + 1) / (n - p - 1)`` with n faults (Hurvich & Tsai 1989); a law
    with too few faults for its parameters has no weight. The exponential always has one.
    """
    out = []
    names = laws_of([r[1] for r in rows], [r[8] for r in rows]).tolist()
    for law in (EXPONENTIAL, WEIBULL, UNSEEN):
        # A law with a free share or shape holds the exponential as a special case.
        mine = [r for r, name in zip(rows, names, strict=True) if name in (law, EXPONENTIAL)]
        if law not in names and law != EXPONENTIAL:
            continue
        top = max(mine, key=lambda r: r[2])
        p = 1 + n_arrival + (law != EXPONENTIAL)
        room = n_faults - p - 1
        # Fewer faults than parameters: no correction can be made, and only the simplest is left.
        extra = 2.0 * p * (p + 1) / room if room > 0 else math.inf
        aicc = -2.0 * top[2] + 2.0 * p + extra
        out.append((law, top, aicc if law != EXPONENTIAL or room > 0 else -math.inf))
    least = min(a for _, _, a in out)
    raw = [1.0 if a == least else math.exp(-0.5 * (a - least)) for _, _, a in out]
    return tuple(
        DelayLaw(
            law=law, model=model_of(top, pre, detection), log_likelihood=top[2], weight=w / sum(raw)
        )
        for (law, top, _), w in zip(out, raw, strict=True)
    )


def model_of(row: Row, pre: Prepared, detection: float) -> DelayModel:
    """Return the model at one point of the profile."""
    return DelayModel(
        faults_to_horizon=math.exp(row[3]),
        horizon_h=pre.horizon_h,
        arrival_shape=row[5],
        mean_delay_h=row[0],
        delay_shape=row[1],
        detection=detection,
        no_warning=row[8],
    )
