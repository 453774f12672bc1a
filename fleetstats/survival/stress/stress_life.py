"""Stress-life: Weibull lives with a common shape whose scale falls with stress.

``log T = c + b x + W / shape`` with W smallest extreme value and x = log stress (inverse power
law, Basquin for fatigue), x = stress (exponential) or x = -1 / (k T) with T the stress in kelvin
and k Boltzmann's constant (Arrhenius; -b is then the activation energy in eV). Run-outs are
right-censored. Field lives may be joined at service stress, their hours turned into the bench's
life by a factor; they then share shape and law, or only the shape, with a life ratio of their own
(Meeker & Escobar 1998, chapters
17 and 19; Nelson 1990: from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core import arguments
from fleetstats.core.errors import FitError
from fleetstats.core.gate import FLAG, POSITIVE, PROBABILITY, an, gate, one_of
from fleetstats.core.value import Array, Bools, Floats, Value, value
from fleetstats.survival.last_steps import CLOSE, has_settled
from fleetstats.survival.stress.field_lives import FIELD, FieldLives

RELATIONS = ("power", "exponential", "arrhenius")
BOLTZMANN_EV = 8.617333262e-5
"""Boltzmann's constant in eV per kelvin (exact since the SI of 2019, here to ten digits)."""
ZERO_C_IN_K = 273.15
"""The ice point in kelvin."""
MAX_STEPS = 200


@value
class StressRuns(Value):
    """Parts run on the bench.

    Parameters
    ----------
    stress, life : (n,) float
        Positive; life in hours or cycles.
    failed : (n,) bool
        False for a run-out.
    weight : (n,) float
        How much a run counts; 1 but in reweighted refits.

    Examples
    --------
    >>> import fleetstats as fs
    >>> runs = fs.StressRuns.of([1, 1, 1, 2, 2, 2], [90, 110, 130, 30, 44, 50], True)
    >>> runs.levels
    array([1., 2.])
    """

    stress: Floats
    life: Floats
    failed: Bools
    weight: Floats

    def __post_init__(self) -> None:
        bad = ~((self.stress > 0) & (self.life > 0) & np.isfinite(self.stress * self.life))
        if bad.any():
            i = int(np.argmax(bad))
            raise FitError(
                f"Run {i + 1} has stress {self.stress[i]:g} and life {self.life[i]:g}.",
                "Both must be positive and finite.",
            )

    @classmethod
    def of(cls, stress: ArrayLike, life: ArrayLike, failed: ArrayLike) -> StressRuns:
        """Build from plain arrays, each run counting once; one value stands for all runs.

        Raises
        ------
        ArgumentError
            If a column is not what it stands for, or lengths differ.
        """
        n = max(np.size(stress), np.size(life), np.size(failed))
        return cls(
            stress=arguments.positives(stress, "stress", n=n),
            life=arguments.positives(life, "life", n=n),
            failed=arguments.flags_of(failed, "failed", n=n),
            weight=np.ones(n),
        )

    def __len__(self) -> int:
        return len(self.stress)

    @property
    def levels(self) -> Array:
        """Return the stresses run, rising."""
        return np.unique(self.stress)


@value
class StressLifeFit(Value):
    """Fitted stress-life law.

    Parameters
    ----------
    relation : str
        ``"power"``, ``"exponential"`` or ``"arrhenius"``.
    shape : float
        Common to all stresses.
    intercept, slope : float
        Of log scale on x; life in the bench's unit.
    log_likelihood : float
        Of full densities on the bench's life, the field's included when joined.
    ratio : float or None
        Field life over what the bench's law gives, when the field has a scale of its own;
        infinite when nothing failed in the field.
    n, n_failed : int
        Bench runs and failures.
    """

    relation: str
    shape: float
    intercept: float
    slope: float
    log_likelihood: float
    n: int
    n_failed: int
    ratio: float | None = None

    @gate(stress=POSITIVE)
    def scale(self, stress: float) -> float:
        """Return the Weibull scale at a stress, in the bench's life."""
        return float(math.exp(self.intercept + self.slope * transform(stress, self.relation)))

    @gate(p=PROBABILITY, stress=POSITIVE)
    def life(self, p: float, stress: float) -> float:
        """Return the life by which a share `p` has failed at a stress."""
        return float(self.scale(stress) * (-math.log1p(-p)) ** (1.0 / self.shape))


RUNS = an(StressRuns, "Make runs by StressRuns.of(stress, life, failed).")


def transform(stress: float, relation: str) -> float:
    """Return x: log stress (power), stress (exponential), or -1 / (k T) of kelvin (Arrhenius)."""
    return float(transforms(np.array([stress]), relation)[0])


def transforms(stress: Array, relation: str) -> Array:
    """Return (n,) x for (n,) stresses, as `transform` does; all of them rise with stress."""
    if relation == "power":
        return np.asarray(np.log(stress))
    if relation == "arrhenius":
        return np.asarray(-1.0 / (BOLTZMANN_EV * stress))
    return np.array(stress)


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What a profile holds fast; None is free.

    `log_life` is the log of the life asked for; `margin` (with `log_life` as the required life)
    the distance in x at which it is reached; `log_ratio` the field's own log life ratio, 0 for
    one law and infinity to leave the field out.
    """

    log_life: float | None = None
    margin: float = 0.0
    log_ratio: float | None = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StressPeak:
    """A maximum: shape, log life at the chosen stress, slope, log ratio, log-likelihood."""

    shape: float
    log_life: float
    slope: float
    log_ratio: float
    value: float


class StressLikelihood:
    """Log-likelihood about the life of a share p at a chosen stress.

    With ``z = shape * (log t - q - b dx) + w_p`` (dx = x less that stress's, q the log life, w_p =
    log(-log(1 - p))) a run adds ``d (log shape + z - log t) - exp(z)``, and entry adds
    ``exp(z0)``. In (shape, -shape q, -shape b) z is linear, and stays so when q, the margin or
    the ratio is held; so one Newton solver serves the fit and every profile.
    """

    def __init__(
        self,
        runs: StressRuns,
        relation: str,
        *,
        p: float,
        stress: float,
        field: FieldLives | None = None,
    ) -> None:
        self.x0 = transform(stress, relation)
        self.w_p = math.log(-math.log1p(-p))
        x = transforms(runs.stress, relation)
        log_t, dx = np.log(runs.life), x - self.x0
        failed, weight = np.array(runs.failed), np.array(runs.weight)
        entry, in_field = np.full(len(runs), -np.inf), np.zeros(len(runs))
        if field is not None:
            s, k = field.spells, math.log(field.per_h)
            # A failure known to lie between two checks counts in the middle of them.
            end = np.log(0.5 * (s.exit_lower + s.exit_upper)) + k
            with np.errstate(divide="ignore"):
                entry = np.concatenate([entry, np.log(s.entry) + k])
            f_dx = np.full(len(s), transform(field.stress, relation) - self.x0)
            log_t, dx = np.concatenate([log_t, end]), np.concatenate([dx, f_dx])
            failed = np.concatenate([failed, s.failed])
            weight = np.concatenate([weight, s.weight])
            in_field = np.concatenate([in_field, np.ones(len(s))])
        self.log_t, self.dx, self.failed, self.weight = log_t, dx, failed, weight
        self.in_field, self.entry = in_field, entry
        self.n_runs = len(runs)
        self.spread = float(np.ptp(x)) or 1.0
        self.field_failed = bool(failed[self.n_runs :].any())
        # About the middle of the failed lives, so that Newton's matrix is well conditioned.
        self.centre = float(log_t[: self.n_runs][runs.failed].mean())

    def peak(self, held: Held | None = None) -> StressPeak:
        """Return the maximum with some things held.

        A free ratio with nothing failed in the field runs to infinity, and the field drops out.

        Raises
        ------
        FitError
            If the climb does not end.
        """
        h = held or Held()
        if h.log_ratio is None and not self.field_failed:
            h = Held(log_life=h.log_life, margin=h.margin, log_ratio=math.inf)
        n = self.n_runs if h.log_ratio == math.inf else len(self.log_t)
        rows, late = np.arange(n), np.flatnonzero(np.isfinite(self.entry[:n]))
        theta, value = _climb(
            self._design(self.log_t[:n], rows, h),
            self._design(self.entry[late], late, h),
            self.w_p,
            self.failed[:n],
            self.weight[:n],
            self.weight[late],
        )
        value -= float((self.weight[:n] * self.log_t[:n])[self.failed[:n]].sum())
        shape, rest = float(theta[0]), list(theta[1:])
        q = self.centre - rest.pop(0) / shape if h.log_life is None else h.log_life
        slope = -rest.pop(0) / shape
        ratio = -rest.pop(0) / shape if h.log_ratio is None else h.log_ratio
        return StressPeak(
            shape=shape,
            log_life=float(q - slope * h.margin),
            slope=float(slope),
            log_ratio=float(ratio),
            value=value,
        )

    def _design(self, log_t: Array, rows: Array, held: Held) -> Array:
        k = log_t - (self.centre if held.log_life is None else held.log_life)
        if held.log_ratio is not None and math.isfinite(held.log_ratio):
            k = k - held.log_ratio * self.in_field[rows]
        columns = [k]
        if held.log_life is None:
            columns.append(np.ones_like(k))
        columns.append(self.dx[rows] - held.margin)
        if held.log_ratio is None:
            columns.append(self.in_field[rows])
        return np.column_stack(columns)


def _climb(
    x: Array, x0: Array, offset: float, failed: Array, weight: Array, weight0: Array
) -> tuple[Array, float]:
    """Maximise ``sum w (d (log k + z) - exp z) + sum w0 exp z0``, z = x theta + offset, k > 0.

    Newton's method with halved steps; where delayed entry bends the surface the wrong way a
    multiple of the information without it is used.
    """
    r = float(weight[failed].sum())

    def value(theta: Array) -> float:
        if theta[0] <= 0.0:
            return -math.inf
        z = x @ theta + offset
        if z.max() > 600.0:
            return -math.inf
        out = float((weight * (np.where(failed, math.log(theta[0]) + z, 0.0) - np.exp(z))).sum())
        return out + (float((weight0 * np.exp(x0 @ theta + offset)).sum()) if len(x0) else 0.0)

    theta = np.zeros(x.shape[1])
    # Small enough a shape that no run's hazard is beyond numbers.
    theta[0] = 1.0 / max(1.0, float(np.abs(x[:, 0]).max()) / 5.0)
    now = value(theta)
    before = math.inf
    for _ in range(MAX_STEPS):
        h = weight * np.exp(x @ theta + offset)
        slope = x.T @ (weight * failed - h)
        slope[0] += r / theta[0]
        info = x.T @ (h[:, None] * x)
        info[0, 0] += r / theta[0] ** 2
        bent = info
        if len(x0):
            h0 = weight0 * np.exp(x0 @ theta + offset)
            slope += x0.T @ h0
            bent = info - x0.T @ (h0[:, None] * x0)
        if np.linalg.eigvalsh(bent)[0] <= 1e-12 * np.linalg.eigvalsh(info)[-1]:
            bent = info + 1e-9 * np.eye(len(theta)) * float(np.trace(info))
        step = np.linalg.solve(bent, slope)
        gain = float(step @ slope)
        if has_settled(gain, before):
            return theta, now
        before = gain
        t = 1.0
        while (new := value(theta + t * step)) < now and t > 1e-9 and not gain < CLOSE:
            t *= 0.5
        if t <= 1e-9:
            return theta, now
        theta, now = theta + t * step, new
    raise FitError(
        "The stress-life law found no maximum in these runs.",
        "It needs failures at two stresses, with lives that differ within a stress.",
    )


@gate(runs=RUNS, relation=one_of(*RELATIONS), field=FIELD.or_none, own_ratio=FLAG)
def fit_stress_life(
    runs: StressRuns,
    *,
    relation: str = "power",
    field: FieldLives | None = None,
    own_ratio: bool = False,
) -> StressLifeFit:
    """Fit the stress-life law by maximum likelihood.

    Parameters
    ----------
    runs : StressRuns
        With failures at two stresses or more.
    relation : {"power", "exponential", "arrhenius"}
        How life falls with stress; for the last, stress is a temperature in kelvin.
    field : FieldLives or None
        Field lives joined at service stress.
    own_ratio : bool
        Whether the field has a life ratio of its own, so that it shares the shape only.

    Returns
    -------
    StressLifeFit

    Raises
    ------
    FitError
        If the relation is unknown, or fewer than two stresses have a failure.

    References
    ----------
    Meeker & Escobar (1998), Statistical Methods for Reliability Data, chapters 17
    and 19; Nelson (1990), Accelerated Testing (both from memory).

    Examples
    --------
    >>> import fleetstats as fs
    >>> runs = fs.StressRuns.of([1, 1, 1, 2, 2, 2], [90, 110, 130, 30, 44, 50], True)
    >>> fit = fs.fit_stress_life(runs)
    >>> round(fit.shape, 2), round(fit.slope, 3)
    (6.97, -1.371)
    """
    p, middle = 1.0 - math.exp(-1.0), float(np.median(runs.stress)) if len(runs) else 1.0
    like = stress_likelihood(runs, relation, p, middle, field)
    best = like.peak(Held(log_ratio=None if own_ratio and field is not None else 0.0))
    return StressLifeFit(
        relation=relation,
        shape=best.shape,
        intercept=best.log_life - best.slope * like.x0,
        slope=best.slope,
        log_likelihood=best.value,
        n=len(runs),
        n_failed=int(runs.failed.sum()),
        ratio=math.exp(best.log_ratio) if own_ratio and field is not None else None,
    )


def stress_likelihood(
    runs: StressRuns, relation: str, p: float, stress: float, field: FieldLives | None = None
) -> StressLikelihood:
    """Return the likelihood about the life of a share `p` at a stress, or say why there is none."""
    broken = np.unique(runs.stress[runs.failed])
    if len(broken) < 2:
        raise FitError(
            f"Parts failed at {len(broken)} stress{'' if len(broken) == 1 else 'es'} only.",
            "A law of life and stress needs failures at two stresses or more; three show whether "
            "the law holds.",
        )
    return StressLikelihood(runs, relation, p=p, stress=stress, field=field)
