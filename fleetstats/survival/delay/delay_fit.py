"""Fitting the delay-time model: profile over the mean warning time, given detection.

Detection, the delay and the rate of faults are only weakly told apart by field records, so
detection is held at stated values and the answer is shown over their range. With few failures the
mean warning time has a lower limit only; the profile then says so instead of giving a number. The
limits are the widest over every law of the warning time that the records do not rule out.
"""

from __future__ import annotations

import math

import numpy as np

from fleetstats.core import arguments
from fleetstats.core.errors import FitError
from fleetstats.core.gate import HOURS_ABOVE_0, SHARE, an, counted, gate, one_of
from fleetstats.survival.delay.delay import CheckLives
from fleetstats.survival.delay.delay_fitted import DelayFit
from fleetstats.survival.delay.delay_laws import (
    UNSEEN,
    WEIBULL,
    other_laws,
    weigh_laws,
)
from fleetstats.survival.delay.delay_likelihood import Prepared, prepare_delay
from fleetstats.survival.delay.delay_profile import DelayPrior, Row, refit_arrival, sharpen
from fleetstats.survival.delay.delay_surface import lay_surface

LEAST_DETECTION = 1e-6
"""Chance of detection below which a check finds nothing in any fleet, so that none is fitted."""

MEANS = 18
"""Mean warning times on the profile's grid, even in log."""
LAWS = {"exponential": (), "weibull": (WEIBULL,), "averaged": (WEIBULL, UNSEEN)}
"""Laws of the warning time fitted beside the exponential, by the setting ``[delay] delay``."""


def typical_gap_h(lives: CheckLives) -> float:
    """Return the median hours between checks."""
    gaps = np.diff(np.concatenate([[0.0], lives.check_h]))
    return float(np.median(gaps[gaps > 0])) if np.any(gaps > 0) else 0.05 * lives.oldest_h


@gate(
    lives=an(CheckLives, "Make them by CheckLives.of(rows)."),
    detection=SHARE,
    arrival=one_of("steady", "weibull"),
    delay=one_of(*LAWS),
    prior=an(DelayPrior, "Make one by DelayPrior(...).").or_none,
    prepared=an(Prepared, "Make one by prepare_delay(lives).").or_none,
    grid=counted(2),
    at_h=HOURS_ABOVE_0.or_none,
)
def fit_delay(
    lives: CheckLives,
    *,
    detection: float,
    arrival: str = "steady",
    delay: str = "averaged",
    prior: DelayPrior | None = None,
    prepared: Prepared | None = None,
    grid: int = MEANS,
    at_h: float | None = None,
) -> DelayFit:
    """Fit the delay-time model by likelihood at a stated chance of detection.

    Parameters
    ----------
    lives : CheckLives
        With at least one fault, found or failed.
    detection : float
        Chance in (0, 1] that a check finds a fault that is there.
    arrival : {"steady", "weibull"}
        Whether faults arise at a steady rate or at a power of age.
    delay : {"averaged", "exponential", "weibull"}
        Law of the warning time; averaged over three, see `delay_laws`.
    prior : DelayPrior or None
        Adds its log density; without it the likelihood speaks alone.
    prepared : Prepared or None
        Integration ages made before, to fit several chances of detection on the same arrays.
    grid : int
        Mean warning times on the profile.
    at_h : float or None
        Age at which the rate of faults is wanted beside its mean; it needs Weibull arrival.

    Returns
    -------
    DelayFit

    Raises
    ------
    ArgumentError
        If an argument is not what it stands for.
    FitError
        If no fault was seen at all.

    References
    ----------
    Christer & Waller (1984), J. Opl Res. Soc. 35, 401-406; Wang (2012), a review: both at second
    hand.

    Examples
    --------
    >>> import fleetstats as fs
    >>> rows = [
    ...     (f"E{k}", 0, 0, 100.0 * k, 1 + k % 2, range(100, 100 * k + 1, 100), False, "valve")
    ...     for k in range(2, 12)
    ... ]
    >>> fit = fs.fit_delay(fs.CheckLives.of(rows), detection=0.9)
    >>> fit.n_found, fit.n_failed, round(float(fit.slip(50.0)), 2)
    (5, 5, 0.17)
    """
    if detection == 0.0:
        raise arguments.wrong("detection", detection, "A check that finds nothing is none.")
    if lives.n_found + lives.n_failed == 0:
        raise FitError(
            "No fault was found at a check and none failed.",
            "A check interval can be judged from the first few faults on.",
        )
    pre = prepared or prepare_delay(lives, detection_low=detection)
    rows = _profile(lives, pre, detection, arrival, delay, prior, grid, at_h)
    best = max(rows, key=lambda r: r[2])
    n_faults, n_arrival = lives.n_found + lives.n_failed, 2 if arrival == "weibull" else 1
    table = np.array(sorted(rows, key=lambda r: (r[1], r[8], r[0])))
    return DelayFit(
        log_likelihood=best[2],
        laws=weigh_laws(rows, pre, detection, n_faults, n_arrival),
        prior=prior,
        mean_h=table[:, 0],
        delay_shape=table[:, 1],
        deviance=2.0 * (best[2] - table[:, 2]),
        log_faults=table[:, 3],
        log_faults_se=table[:, 4],
        arrival_shape=table[:, 5],
        log_at=table[:, 6],
        log_at_se=table[:, 7],
        no_warning=table[:, 8],
        at_h=at_h,
        n_lives=len(lives),
        n_found=lives.n_found,
        n_failed=lives.n_failed,
        exposure_h=lives.exposure_h,
    )


def _profile(
    lives: CheckLives,
    pre: Prepared,
    detection: float,
    arrival: str,
    delay: str,
    prior: DelayPrior | None,
    grid: int,
    at_h: float | None,
) -> list[Row]:
    """Profile the exponential law by exact refits, and the others about its best point."""
    typical = typical_gap_h(lives)
    means = np.geomspace(typical / 25.0, typical * 60.0, grid)
    rows: list[Row] = []
    start = (math.log((lives.n_found + lives.n_failed) / max(1, len(lives))), 0.0)
    for m in (*means[::-1], math.inf):
        if math.isinf(m) and prior is not None:
            continue
        row = refit_arrival(pre, m, 1.0, detection, arrival, start, prior, at_h)
        if row is not None:
            rows.append(row)
            start = (row[3], math.log(row[5]))
    best = max(rows, key=lambda r: r[2])
    if math.isfinite(best[0]):
        best = sharpen(pre, best, means[1] / means[0], detection, arrival, prior, at_h)
        rows.append(best)
    if not LAWS[delay]:
        return rows
    surface = lay_surface(pre, best, detection, arrival, at_h)
    return rows + other_laws(surface, means, detection, LAWS[delay], prior)


def doubt_steady(pre: Prepared, fit: DelayFit) -> tuple[float, float]:
    """Return how strongly a fit with steady arrival is contradicted: chance, and arrival shape.

    The rate of faults is refitted as a power of age with the warning time held at the fit's; the
    fall of twice the log-likelihood is set against chi-square with one degree of freedom. As the
    warning time is not refitted, the chance can only come out too large.
    """
    from scipy.special import chdtrc

    m = fit.law.model
    start = (math.log(m.faults_to_horizon), 0.0)
    row = refit_arrival(
        pre, m.mean_delay_h, m.delay_shape, m.detection, "weibull", start, fit.prior,
        no_warning=m.no_warning,
    )  # fmt: skip
    if row is None:
        return 1.0, 1.0
    return float(chdtrc(1, max(0.0, 2.0 * (row[2] - fit.law.log_likelihood)))), row[5]
