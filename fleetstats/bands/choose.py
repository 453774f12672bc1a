"""The one door to bands: choose a method by what is in hand, and ask it.

The default was chosen by evidence. Of the methods that the calibration study compares (see
`calibration`), the mixture over shape with a vanishing prior is the only one whose edges hold their
promise from zero failures on; with many failures it and the profile likelihood agree. A fit of
another family than the Weibull has its profile limits.
"""

from __future__ import annotations

from dataclasses import replace
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.bands.bayes.mixture import MIDDLE, OPTIMISTIC, PESSIMISTIC, ShapeMixture
from fleetstats.bands.caps import estimate_beside, surely_above
from fleetstats.bands.interval import Band, Interval
from fleetstats.bands.likelihood.profile import (
    band_quantity,
    curve_quantity,
    make_curve,
    trim_edges,
)
from fleetstats.bands.method import FEW, METHODS, method_of_call, shape_prior
from fleetstats.bands.quantity import Quantity
from fleetstats.core import arguments
from fleetstats.core.errors import BandError, NoMaximum
from fleetstats.core.gate import HOURS, HOURS_EACH, LEVEL, SEED, an, gate, one_of
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import EvidenceKeys
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import EVIDENCE, FIT, LIVES, fit_of_lives, lives_of_call

QUANTITY = an(Quantity, "Ask for one, as fs.Quantity.life(0.10).")


PRIOR_DRIVEN = 0.8
"""Share of the prior's spread of log shape still there, above which an edge of the shape is said to
be the prior's."""


CURVES = ("reliability", "hazard", "conditional")


@value
class Asked(Value):
    """Bands of one fleet at one level by one method, prepared once and asked many times.

    Parameters
    ----------
    spells : Spells
    fit : Fit or None
    level : float
    method : str
    mixture : ShapeMixture or None
        Prepared where the method needs it.
    settings : EvidenceKeys
    seed : int
    """

    spells: Spells
    fit: Fit | None
    level: float
    method: str
    mixture: ShapeMixture | None
    settings: EvidenceKeys
    seed: int

    _not_in_dict: ClassVar[tuple[str, ...]] = ("spells", "fit", "mixture", "settings")

    @classmethod
    def of(
        cls,
        spells: Spells,
        fit: Fit | None,
        *,
        level: float,
        method: str = "auto",
        settings: EvidenceKeys | None = None,
        seed: int = 0,
    ) -> Asked:
        """Prepare the bands of a fleet; parameters as for `band`.

        Raises
        ------
        ArgumentError
            If level or method is none that there is, or the method is not for the fit's family.
        BandError
            If there are no lives.
        """
        level = arguments.level(level)
        if len(spells) == 0:
            raise BandError("There are no lives to ask.", "Give at least one spell.")
        keys = settings or EvidenceKeys()
        use = method_of_call(method, "weibull" if fit is None else fit.family, keys)
        if use != "shape-mixture" and fit is None:
            # every other method needs a maximum; without one only the mixture can answer
            use = "shape-mixture"
        mixed = (
            ShapeMixture.of_spells(spells, shape_prior(keys)) if use == "shape-mixture" else None
        )
        return cls(
            spells=spells, fit=fit, level=level, method=use, mixture=mixed, settings=keys, seed=seed
        )

    def _without_maximum(self) -> Asked:
        if self.fit is not None and self.fit.family != "weibull":
            raise BandError(
                f"The {self.fit.family} has no maximum among the resamples that were asked.",
                "Ask method 'profile' of it.",
            )
        return Asked.of(
            self.spells,
            None,
            level=self.level,
            method="shape-mixture",
            settings=self.settings,
            seed=self.seed,
        )

    def interval(self, quantity: Quantity, *, lower: bool = True) -> Interval:
        """Return one quantity with its band; without `lower`, a mixture seeks no lower edge."""
        if self.mixture is not None:
            return self._mixed(quantity, lower=lower)
        assert self.fit is not None
        try:
            if self.method in ("profile", "wald"):
                return band_quantity(self.fit, quantity, level=self.level, method=self.method)
            from fleetstats.bands.resampling.resampled import band_resampled

            return band_resampled(
                self.fit,
                quantity,
                level=self.level,
                method=self.method,
                n=self.settings.resamples,
                seed=self.seed,
                prior=shape_prior(self.settings),
            )
        except NoMaximum:
            return self._without_maximum().interval(quantity)

    def allows(self, quantity: Quantity, low: float) -> bool:
        """Return whether surely neither estimate nor upper edge of a mixture lies below `low`.

        For a life or a reliability: it costs one sum where each of the two is sought in several.
        """
        mixed = self.mixture
        assert mixed is not None
        high_p, high_add = self._edges(quantity.falls_with_rate)[1::2]
        told = estimate_beside(self.fit, self.spells.n_failed, quantity, mixed.reference_h)
        if told is None:
            return bool(surely_above(mixed, quantity, low)[0])
        over = surely_above(mixed, quantity, low, probability=high_p, added=high_add)
        return told >= low and bool(over[0])

    def curve(self, kind: str, hours: ArrayLike, *, width_h: float = 0.0) -> Band:
        """Return ``"reliability"``, ``"hazard"`` or ``"conditional"`` at `hours` (m,)."""
        t = np.atleast_1d(np.asarray(hours, dtype=np.float64))
        if self.mixture is not None:
            return self._mixed_curve(kind, t, width_h)
        assert self.fit is not None
        try:
            if self.method == "profile":
                return curve_quantity(self.fit, kind, t, width_h, level=self.level)
            rows = [
                self.interval(Quantity(kind=kind, hours=max(float(v), 1e-9), width_h=width_h))
                for v in t
            ]
        except NoMaximum:
            return self._without_maximum().curve(kind, t, width_h=width_h)
        columns = [
            np.array([np.nan if getattr(r, f) is None else getattr(r, f) for r in rows])
            for f in ("estimate", "low", "high")
        ]
        return make_curve(
            kind, t, *columns, width_h=width_h, spells=self.spells, level=self.level,
            method=self.method,
        )  # fmt: skip

    def _edges(self, falls: bool) -> tuple[float, float, float, float]:
        tail = 0.5 * (1.0 - self.level)
        sides = (PESSIMISTIC, OPTIMISTIC) if falls else (OPTIMISTIC, PESSIMISTIC)
        return tail, 1.0 - tail, *sides

    def _mixed(self, quantity: Quantity, *, lower: bool) -> Interval:
        mixed, r = self.mixture, self.spells.n_failed
        assert mixed is not None
        low_p, high_p, low_add, high_add = self._edges(quantity.falls_with_rate)
        low = mixed.bound_of_one(quantity, low_p, added=low_add) if lower else None
        high: float | None = mixed.bound_of_one(quantity, high_p, added=high_add)
        estimate = self._estimate(quantity) if r > 0 else None
        if r == 0 and quantity.kind == "shape":
            low = high = None
        elif r == 0 and quantity.falls_with_rate:
            high = None
        elif r == 0:
            low = None
        out = trim_edges(
            quantity,
            estimate,
            low,
            high,
            self.spells.oldest_h,
            level=self.level,
            method="shape-mixture",
        )
        if quantity.kind == "shape" and r > 0 and float(mixed.prior_driven[0]) > PRIOR_DRIVEN:
            note = "mostly the prior's: too few failures to tell the shape"
            return replace(out, note_low=note, note_high=note)
        return out

    def _estimate(self, quantity: Quantity) -> float:
        assert self.mixture is not None
        told = estimate_beside(self.fit, self.spells.n_failed, quantity, self.mixture.reference_h)
        return self.mixture.bound_of_one(quantity, 0.5, added=MIDDLE) if told is None else told

    def _mixed_curve(self, kind: str, hours: Array, width_h: float) -> Band:
        mixed, r = self.mixture, self.spells.n_failed
        assert mixed is not None
        inner = np.maximum(hours, 1e-9 * mixed.reference_h)
        low_p, high_p, low_add, high_add = self._edges(kind == "reliability")
        low = mixed.bound_curve(kind, inner, width_h, low_p, added=low_add)
        high = mixed.bound_curve(kind, inner, width_h, high_p, added=high_add)
        nothing = np.full(len(hours), np.nan)
        if r == 0:
            low, high = (low, nothing) if kind == "reliability" else (nothing, high)
            estimate = nothing
        elif self.fit is not None and self.fit.family == "weibull" and r >= FEW:
            estimate = {
                "reliability": lambda: self.fit.reliability(inner),
                "hazard": lambda: self.fit.hazard(inner),
                "conditional": lambda: self.fit.conditional_failure(inner, width_h),
            }[kind]()
        else:
            estimate = mixed.bound_curve(kind, inner, width_h, 0.5, added=MIDDLE)
        return make_curve(
            kind, hours, estimate, low, high, width_h=width_h, spells=self.spells,
            level=self.level, method="shape-mixture",
        )  # fmt: skip


@gate(
    spells=LIVES,
    fit=FIT.or_none,
    quantity=QUANTITY,
    level=LEVEL,
    method=one_of("auto", *METHODS),
    settings=EVIDENCE.or_none,
    seed=SEED,
)
def band(
    spells: Spells,
    fit: Fit | None,
    quantity: Quantity,
    *,
    level: float,
    method: str = "auto",
    settings: EvidenceKeys | None = None,
    seed: int = 0,
) -> Interval:
    """Return one quantity with its band, by the method in hand or the one asked for.

    Parameters
    ----------
    spells, fit : Spells, Fit or None
        The lives, and a fit of them; None where none exists.
    quantity : Quantity
        What is asked.
    level : float
        Two-sided; each edge is a one-sided bound at ``(1 + level) / 2``.
    method : str
        ``"auto"``, or one of `METHODS`. A method that needs a maximum where there is none gives
        way to ``"shape-mixture"``, and the interval names that.
    settings : EvidenceKeys, optional
        Shape prior, resamples and method of the study.
    seed : int
        Of resampling methods.

    Returns
    -------
    Interval
        Its `method` names what was used; an edge that the data do not give is None, with a note.

    Raises
    ------
    ArgumentError
        If an argument is not what it stands for, the fit is one of other lives, or the method
        knows the Weibull alone and the fit is of another family.
    BandError
        If the family has no such quantity.

    References
    ----------
    Profile and normal limits: Meeker & Escobar (1998), Statistical Methods for Reliability Data,
    sections 8.3 and 8.4. Each other method names its source at the head of its module in `bands/`;
    how often each holds is measured (`reports/calibration`).

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(100, 1600, 50), [k % 5 == 3 for k in range(30)])
    >>> print(fs.band(lives, fs.fit_weibull(lives), fs.Quantity.life(0.1), level=0.9))
    B10 life: 721 h (377 h to 1,054 h, 90 %, shape-mixture)
    """
    asked = _asked_of_call(spells, fit, level, method, settings, seed)
    return replace(asked.interval(quantity), fit=fit)


@gate(
    spells=LIVES,
    fit=FIT.or_none,
    kind=one_of(*CURVES),
    hours=HOURS_EACH,
    level=LEVEL,
    width_h=HOURS,
    method=one_of("auto", *METHODS),
    settings=EVIDENCE.or_none,
    seed=SEED,
)
def band_curve(
    spells: Spells,
    fit: Fit | None,
    kind: str,
    hours: ArrayLike,
    *,
    level: float,
    width_h: float = 0.0,
    method: str = "auto",
    settings: EvidenceKeys | None = None,
    seed: int = 0,
) -> Band:
    """Return a curve with pointwise edges, NaN where there is none.

    Parameters
    ----------
    spells, fit, level, method, settings, seed
        As for `band`.
    kind : {"reliability", "hazard", "conditional"}
        Which curve.
    hours : (m,) float
        Ages, rising.
    width_h : float
        Hours over which a conditional failure may happen.

    Returns
    -------
    Band
        At each of `hours` by itself; `supported_to_h` says where extrapolation begins.

    Raises
    ------
    ArgumentError, BandError
        As `band`.

    References
    ----------
    As `band`.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(100, 1600, 50), [k % 5 == 3 for k in range(30)])
    >>> print(fs.band_curve(lives, fs.fit_weibull(lives), "hazard", [500, 900], level=0.9))
    failure rate: 2 ages to 900 h, 90 % shape-mixture band, evidence to 1,100 h
    """
    if kind == "conditional":
        width_h = arguments.hours(width_h, "width_h", zero=False)
    ages = arguments.hours_of(hours, "hours", least=1)
    asked = _asked_of_call(spells, fit, level, method, settings, seed)
    return replace(asked.curve(kind, ages, width_h=width_h), fit=fit)


def _asked_of_call(
    spells: Spells, fit: Fit | None, level: float, method: str, settings: EvidenceKeys | None,
    seed: int,
) -> Asked:  # fmt: skip
    """Return the bands that a call of `band` or `band_curve` asks, once its arguments hold."""
    fit = fit_of_lives(fit, lives_of_call(spells, least=1))
    return Asked.of(spells, fit, level=level, method=method, settings=settings, seed=seed)
