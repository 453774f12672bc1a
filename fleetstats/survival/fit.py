"""A fitted family of lives, with the lives behind it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError
from fleetstats.core.gate import HOURS_ANY, HOURS_SIGNED, PROBABILITIES_ANY, gate
from fleetstats.core.units import text_number
from fleetstats.core.value import Array, Floats, Matrix, Value, as_asked, value
from fleetstats.spells import Spells
from fleetstats.survival.distribution import DISTRIBUTIONS, Distribution

if TYPE_CHECKING:
    import pandas as pd


def corrected_criterion(log_likelihood: float, n_parameters: int, n: float) -> float:
    """Return AICc = 2k - 2 log L + 2k(k + 1)/(n - k - 1); NaN where n <= k + 1.

    Hurvich & Tsai (1989). `n` counts rows (lives), not failures.
    """
    k = n_parameters
    if n <= k + 1:
        return math.nan
    return 2 * k - 2 * log_likelihood + 2 * k * (k + 1) / (n - k - 1)


@value
class Fit(Value):
    """Maximum-likelihood fit of one family.

    Parameters
    ----------
    family : str
        A key of `DISTRIBUTIONS`.
    names : tuple of str
        Names of the natural parameters.
    estimate : (k,) float
        Their values.
    covariance : (k, k) float
        Inverse of the observed information in the natural parameters.
    log_likelihood : float
        Of full densities on hours, delayed entry divided out.
    aicc : float
        Corrected criterion; NaN with too few lives.
    n, n_failed : float
        Lives and failures, weighted.
    converged : bool
        Whether the last step was within tolerance.
    spells : Spells
        The lives fitted; not in `to_dict`.
    """

    family: str
    names: tuple[str, ...]
    estimate: Floats
    covariance: Matrix
    log_likelihood: float
    aicc: float
    n: float
    n_failed: float
    converged: bool
    spells: Spells

    _not_in_dict: ClassVar[tuple[str, ...]] = ("spells",)

    @property
    def distribution(self) -> Distribution:
        """Return the formulas of the family."""
        return DISTRIBUTIONS[self.family]

    def parameter(self, name: str) -> float:
        """Return one natural parameter by its name."""
        if name not in self.names:
            raise FitError(
                f"A {self.distribution.title} fit has no parameter '{name}'.",
                f"It has {', '.join(self.names)}.",
            )
        return float(self.estimate[self.names.index(name)])

    def std_error(self, name: str) -> float:
        """Return the standard error of one natural parameter."""
        self.parameter(name)
        i = self.names.index(name)
        return float(math.sqrt(self.covariance[i, i]))

    @property
    def aic(self) -> float:
        """Return ``2k - 2 log L`` (Akaike 1974); k parameters."""
        return 2.0 * len(self.names) - 2.0 * self.log_likelihood

    @property
    def bic(self) -> float:
        """Return ``k log n - 2 log L`` (Schwarz 1978); n counts lives, not failures, as in AICc."""
        return len(self.names) * math.log(self.n) - 2.0 * self.log_likelihood

    @property
    def shape(self) -> float:
        """Return the shape (Weibull, gamma, log-logistic)."""
        return self.parameter("shape")

    @property
    def scale_h(self) -> float:
        """Return the scale in hours."""
        return self.parameter("scale_h")

    def to_frame(self) -> pd.DataFrame:
        """Return the parameters, one row each, with their standard errors."""
        import pandas as pd

        return pd.DataFrame(
            {
                "family": self.family,
                "parameter": self.names,
                "estimate": self.estimate,
                "std_error": np.sqrt(np.diag(self.covariance)),
                "log_likelihood": self.log_likelihood,
                "aicc": self.aicc,
                "n": self.n,
                "n_failed": self.n_failed,
            }
        )

    def _ages(self, hours: ArrayLike) -> Array:
        """Return `hours` as the law is asked at; below 0 h only one that has lives there."""
        if not self.distribution.below_zero:
            HOURS_ANY.check(hours, "hours")
        return np.asarray(hours, dtype=np.float64)

    @gate(hours=HOURS_SIGNED)
    def cumulative_hazard(self, hours: ArrayLike) -> Array:
        """Return minus log reliability at each of `hours`."""
        t = self._ages(hours)
        return as_asked(self.distribution.cumulative_hazard(t, self.estimate))

    @gate(hours=HOURS_SIGNED)
    def reliability(self, hours: ArrayLike) -> Array:
        """Return the chance of reaching each of `hours` without the failure in question."""
        t = self._ages(hours)
        return as_asked(np.exp(-self.distribution.cumulative_hazard(t, self.estimate)))

    @gate(hours=HOURS_SIGNED)
    def hazard(self, hours: ArrayLike) -> Array:
        """Return the hazard per hour at each of `hours`."""
        t = self._ages(hours)
        with np.errstate(over="ignore"):
            return as_asked(np.exp(self.distribution.log_hazard(t, self.estimate)))

    @gate(p=PROBABILITIES_ANY)
    def quantile(self, p: ArrayLike) -> Array:
        """Return the hours by which a share `p` of lives has failed; p in (0, 1)."""
        q = np.asarray(p, dtype=np.float64)
        return as_asked(self.distribution.quantile(q, self.estimate))

    @gate(hours=HOURS_SIGNED, width_h=HOURS_ANY)
    def conditional_failure(self, hours: ArrayLike, width_h: ArrayLike) -> Array:
        """Return the chance of failing within `width_h` more hours, having reached `hours`."""
        t = self._ages(hours)
        w = np.asarray(width_h, dtype=np.float64)
        of, natural = self.distribution, self.estimate
        rise = of.cumulative_hazard(t + w, natural) - of.cumulative_hazard(t, natural)
        return as_asked(-np.expm1(-np.maximum(rise, 0.0)))

    def band(self, quantity: Any, *, level: float, method: str = "auto", **options: Any) -> Any:
        """Return one quantity of this fit with its band: `fleetstats.band` of its own lives.

        Parameters
        ----------
        quantity : Quantity
            What is asked, such as ``Quantity.life(0.10)``.
        level : float
            Two-sided.
        method, **options
            As for `fleetstats.band`.

        Returns
        -------
        Interval
            Its `fit` is this one.
        """
        import fleetstats  # the front door, since bands lie on a floor above

        return fleetstats.band(self.spells, self, quantity, level=level, method=method, **options)

    def band_curve(self, kind: str, hours: ArrayLike, *, level: float, **options: Any) -> Any:
        """Return a `Band` of this fit at `hours` (m,): `fleetstats.band_curve` of its own lives."""
        import fleetstats

        return fleetstats.band_curve(self.spells, self, kind, hours, level=level, **options)

    def __repr__(self) -> str:
        rows = [
            f"{self.distribution.title} fit to {self.n:g} lives, {self.n_failed:g} failed, "
            f"{self.spells.exposure_h:,.0f} h at risk"
        ]
        for i, name in enumerate(self.names):
            unit = " h" if name.endswith("_h") else ""
            error = text_number(math.sqrt(max(float(self.covariance[i, i]), 0.0)))
            rows.append(
                f"  {name.removesuffix('_h'):<9}"
                f" {text_number(float(self.estimate[i]), digits=4)}{unit} (std error {error}{unit})"
            )
        rows.append(f"  log likelihood {self.log_likelihood:.4f}, AICc {self.aicc:.3f}")
        return "\n".join(rows)
