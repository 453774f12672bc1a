"""Delay time: a fault can be seen from some age on, and fails after a delay unless found.

The model of Christer & Waller (1984, J. Opl Res. Soc. 35, 401-406; read at second hand). Faults
arise at a rate that is steady or a power of age; the delay from then to the failure is exponential
or Weibull; a check finds a fault that is there with a fixed chance, independently each time.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError, SpellError
from fleetstats.core.value import Array, Floats, Texts, Value, as_asked, frozen_array, value

CLEAN, FAILED, FOUND = 0, 1, 2
"""How a life under checks ended: nothing happened, it failed, or a check found the fault."""


@value
class CheckLives(Value):
    """Lives between repairs, each with the ages of the checks made on it.

    Parameters
    ----------
    unit : (n,) str
        Engine.
    start_h : (n,) float
        Hours at which the engine was free of faults: 0, or the hours of the last repair.
    entry_h, exit_h : (n,) float
        Hours under observation, ``start_h <= entry_h < exit_h``. What happened before entry is
        conditioned on: the engine came to entry unfailed and with no fault found.
    ending : (n,) int
        `CLEAN`, `FAILED` (at `exit_h`) or `FOUND` (at the check made at `exit_h`).
    check_h : (m,) float
        Ages of all checks, life after life, rising within a life, within ``(start_h, exit_h]``.
        They include checks before entry that are known or assumed.
    first : (n + 1,) int
        Life i owns ``check_h[first[i]:first[i + 1]]``.
    assumed : (n,) bool
        True where the ages of the checks were assumed, not recorded.
    mode : (n,) str
        Mode of the fault that was found or failed; empty where unknown or clean.

    Raises
    ------
    SpellError
        If hours are out of order or a found fault has no check at its hours.

    Examples
    --------
    >>> import fleetstats as fs
    >>> rows = [
    ...     ("E1", 0, 0, 620, 2, [100, 300, 500, 620], False, "valve"),
    ...     ("E2", 0, 0, 400, 0, [200, 400], False, ""),
    ... ]
    >>> lives = fs.CheckLives.of(rows)
    >>> lives.n_found, lives.exposure_h
    (1, 1020.0)
    """

    unit: Texts
    start_h: Floats
    entry_h: Floats
    exit_h: Floats
    ending: Array
    check_h: Floats
    first: Array
    assumed: Array
    mode: Texts

    def __post_init__(self) -> None:
        object.__setattr__(self, "ending", frozen_array(self.ending, np.int8))
        object.__setattr__(self, "first", frozen_array(self.first, np.int64))
        object.__setattr__(self, "assumed", frozen_array(self.assumed, np.bool_))
        for i in range(len(self.unit)):
            c = self.checks(i)
            ok = 0 <= self.start_h[i] <= self.entry_h[i] < self.exit_h[i] < math.inf
            ok &= bool(np.all(np.diff(c) > 0)) if len(c) else True
            ok &= not len(c) or (c[0] > self.start_h[i] and c[-1] <= self.exit_h[i])
            if not ok:
                raise SpellError(
                    f"Life of unit '{self.unit[i]}' from {self.entry_h[i]:g} to "
                    f"{self.exit_h[i]:g} h: its hours or its checks are out of order.",
                    "Start, entry and exit must rise, and checks lie between start and exit.",
                    index=i,
                )
            if self.ending[i] == FOUND and (not len(c) or c[-1] != self.exit_h[i]):
                raise SpellError(
                    f"Unit '{self.unit[i]}': a fault was found at {self.exit_h[i]:g} h, where no "
                    "check is recorded.",
                    "Add the check, or correct the hours of the finding.",
                    index=i,
                )

    def __len__(self) -> int:
        return len(self.unit)

    def checks(self, i: int) -> Array:
        """Return the ages of the checks of life `i`."""
        out: Array = self.check_h[self.first[i] : self.first[i + 1]]
        return out

    def of_modes(self, modes: set[str]) -> CheckLives:
        """Return the same lives where faults of other modes only end the observation."""
        keep = np.array([m in modes for m in self.mode], dtype=bool)
        return CheckLives(
            **{f: getattr(self, f) for f in ("unit", "start_h", "entry_h", "exit_h")},
            ending=np.where(keep, self.ending, CLEAN),
            check_h=self.check_h,
            first=self.first,
            assumed=self.assumed,
            mode=np.where(keep, self.mode, ""),
        )

    @property
    def n_failed(self) -> int:
        """Return the number of lives that failed."""
        return int((self.ending == FAILED).sum())

    @property
    def n_found(self) -> int:
        """Return the number of faults found at checks."""
        return int((self.ending == FOUND).sum())

    @property
    def exposure_h(self) -> float:
        """Return the hours under observation."""
        return float((self.exit_h - self.entry_h).sum())

    @property
    def oldest_h(self) -> float:
        """Return the greatest hours reached."""
        return float(self.exit_h.max()) if len(self) else 0.0

    @classmethod
    def of(
        cls,
        lives: Sequence[tuple[str, float, float, float, int, ArrayLike, bool, str]],
    ) -> CheckLives:
        """Build from rows of (unit, start, entry, exit, ending, check ages, assumed, mode)."""
        checks = [np.atleast_1d(np.asarray(row[5], dtype=np.float64)) for row in lives]
        return cls(
            unit=np.array([r[0] for r in lives], dtype=np.str_),
            start_h=np.array([r[1] for r in lives]),
            entry_h=np.array([r[2] for r in lives]),
            exit_h=np.array([r[3] for r in lives]),
            ending=np.array([r[4] for r in lives]),
            check_h=np.concatenate(checks) if checks else np.zeros(0),
            first=np.concatenate([[0], np.cumsum([len(c) for c in checks])]).astype(np.int64),
            assumed=np.array([r[6] for r in lives], dtype=bool),
            mode=np.array([r[7] for r in lives], dtype=np.str_),
        )


def slip_share(
    interval_h: ArrayLike, mean_h: float, *, shape: float = 1.0, detection: float = 1.0
) -> Array:
    """Share of faults that fail before a check finds them, with checks at a regular interval.

    A fault arises at a time that is uniform between two checks (steady arrival); with H the delay
    the k-th check after it finds it with chance ``detection * (1 - detection)**(k - 1)`` if H has
    not run out: ``1 - detection * sum_k (1 - detection)**(k-1) * mean of S_H over interval k``.
    For an exponential delay this is the closed form ``1 - r A / (1 - (1 - r) q)`` with
    ``q = exp(-T / m)`` and ``A = (m / T)(1 - q)``.

    Parameters
    ----------
    interval_h : array_like (m,)
        Hours between checks.
    mean_h : float
        Mean warning time in hours; infinity gives 0.
    shape : float
        Weibull shape of the warning time; 1 is exponential.
    detection : float
        Chance in (0, 1] that a check finds a fault that is there.

    Returns
    -------
    (m,) float
        Shares in [0, 1].

    References
    ----------
    Christer & Waller (1984); Wang (2012), review of delay-time modelling: both at second hand. The
    sum over imperfect checks is derived here.
    """
    t = np.atleast_1d(np.asarray(interval_h, dtype=np.float64))
    if not 0.0 < detection <= 1.0:
        raise FitError(f"Chance of detection {detection:g}.", "Give a chance above 0, at most 1.")
    if math.isinf(mean_h):
        return np.zeros_like(t)
    if shape == 1.0:
        x = t / mean_h
        q = np.exp(-x)
        a = -np.expm1(-x) / x
        return np.asarray(1.0 - detection * a / (1.0 - (1.0 - detection) * q))
    scale = mean_h / math.gamma(1.0 + 1.0 / shape)
    n_checks = 1 if detection == 1.0 else 1 + math.ceil(math.log(1e-12) / math.log1p(-detection))
    k = np.arange(n_checks)[:, None]
    area = _survival_area((k + 1) * t, scale, shape) - _survival_area(k * t, scale, shape)
    found = detection * ((1.0 - detection) ** k * area / t).sum(axis=0)
    return np.asarray(np.clip(1.0 - found, 0.0, 1.0))


def _survival_area(x: Array, scale: float, shape: float) -> Array:
    """Integral of the Weibull survival from 0 to `x`, by the incomplete gamma function."""
    from scipy.special import gammainc

    full = scale * math.gamma(1.0 + 1.0 / shape)
    return np.asarray(full * gammainc(1.0 / shape, (x / scale) ** shape))


@value
class DelayModel(Value):
    """Faults arise, warn for a while, and fail unless found.

    Parameters
    ----------
    faults_to_horizon : float
        Expected faults of one engine from new to `horizon_h`.
    horizon_h : float
        Hours to which that number refers.
    arrival_shape : float
        Cumulative faults grow with ``hours ** arrival_shape``; 1 is a steady rate.
    mean_delay_h : float
        Mean warning time; infinity where the records set no upper limit.
    delay_shape : float
        Weibull shape of the warning time; 1 is exponential.
    detection : float
        Chance that a check finds a fault that is there.
    no_warning : float
        Share of faults that fail as they arise and that no check can find; the warning time above
        is that of the others.

    Examples
    --------
    >>> import fleetstats as fs
    >>> model = fs.DelayModel(
    ...     faults_to_horizon=0.6,
    ...     horizon_h=1200,
    ...     arrival_shape=1.0,
    ...     mean_delay_h=150,
    ...     delay_shape=1.0,
    ...     detection=0.9,
    ... )
    >>> round(float(model.slip(50.0)), 3), round(float(model.slip(200.0)), 3)
    (0.176, 0.489)
    """

    faults_to_horizon: float
    horizon_h: float
    arrival_shape: float
    mean_delay_h: float
    delay_shape: float
    detection: float
    no_warning: float = 0.0

    @property
    def faults_per_h(self) -> float:
        """Return the mean rate of faults from new to the horizon, per engine hour."""
        return self.faults_to_horizon / self.horizon_h

    def slip(self, interval_h: ArrayLike) -> Array:
        """Return the share of faults that fail before being found; see `slip_share`."""
        seen = slip_share(
            interval_h, self.mean_delay_h, shape=self.delay_shape, detection=self.detection
        )
        slip: Array = self.no_warning + (1.0 - self.no_warning) * seen
        return as_asked(slip.reshape(np.shape(interval_h)))

    def times_mean_rate(self, at_h: float) -> float:
        """Return the rate of faults at an age over its mean from new to the horizon."""
        return float(self.arrival_shape * (at_h / self.horizon_h) ** (self.arrival_shape - 1.0))

    def failures_per_1000_h(self, interval_h: ArrayLike) -> Array:
        """Return failures before detection per 1,000 engine hours, averaged to the horizon."""
        return 1000.0 * self.faults_per_h * self.slip(interval_h)

    def failures_per_interval(self, interval_h: ArrayLike, at_h: float | None = None) -> Array:
        """Return failures of one engine between two checks.

        Averaged to the horizon, or at the age `at_h`, where the rate of faults hardly changes
        between two checks. With perfect checks and steady arrival this is ``rate * integral of F_H
        over (0, T)`` (Christer & Waller 1984).
        """
        t = np.asarray(interval_h, dtype=np.float64)
        times = 1.0 if at_h is None else self.times_mean_rate(at_h)
        return as_asked(self.faults_per_h * times * t * self.slip(t))

    def cost_per_h(
        self, interval_h: ArrayLike, check: float, repair: float, failure: float
    ) -> Array:
        """Return money per engine hour: checks, faults mended and failures."""
        t = np.asarray(interval_h, dtype=np.float64)
        s = self.slip(t)
        return as_asked(check / t + self.faults_per_h * (s * failure + (1.0 - s) * repair))
