"""Life against temperature and a second stress: Arrhenius times a power law.

``log T = c + E (u - u_m) + n (v - v_m) + d (u - u_m)(v - v_m) + W / shape`` with W smallest extreme
value, u = 1 / (k T) of kelvin T, v = log of the second stress (load, pressure, voltage, amplitude)
and u_m, v_m the middle of the runs; d is 0 but where the two may act on each other. So E is the
activation energy in eV and n the exponent of the second stress, with an interaction both in the
middle of the runs (generalised Eyring law: Meeker & Escobar 1998, chapter 18; Nelson 1990,
chapter 2: from memory).

It is the Weibull accelerated life of `regression/accelerated.py` on two or three covariates, fitted
and held by that solver, as the law of one stress could be (a test holds the two to each other).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core import arguments
from fleetstats.core.errors import FitError
from fleetstats.core.gate import (
    FLAG,
    LEVEL,
    POSITIVE,
    PROBABILITY,
    an,
    gate,
)
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells
from fleetstats.survival.parameter import Parameter
from fleetstats.survival.regression.accelerated import Problem, Solution, solve_accelerated
from fleetstats.survival.regression.law_limits import LawProfile
from fleetstats.survival.regression.regression import profile_coefficient
from fleetstats.survival.stress.stress_life import BOLTZMANN_EV, StressRuns, transforms


@value
class TwoStressRuns(Value):
    """Parts run on the bench under a temperature and a second stress.

    Parameters
    ----------
    hot : StressRuns
        The runs, their stress the temperature in kelvin.
    loaded : StressRuns
        The same runs, their stress the second one, above 0.

    Examples
    --------
    >>> import fleetstats as fs
    >>> len(fs.TwoStressRuns.of([353, 393], [10, 20], [9000, 800], [False, True]))
    2
    """

    hot: StressRuns
    loaded: StressRuns

    @classmethod
    def of(
        cls, kelvin: ArrayLike, stress: ArrayLike, life: ArrayLike, failed: ArrayLike
    ) -> TwoStressRuns:
        """Build from plain arrays; one value stands for all runs.

        Parameters
        ----------
        kelvin, stress, life : (n,) array_like
            Temperature in kelvin, second stress and life, all above 0; life in hours or cycles.
        failed : (n,) array_like
            False for a run-out.

        Raises
        ------
        ArgumentError
            If a column is not what it stands for, or lengths differ.
        """
        n = max(np.size(kelvin), np.size(stress), np.size(life), np.size(failed))
        hot = StressRuns.of(arguments.positives(kelvin, "kelvin", n=n), life, failed)
        return cls(hot=hot, loaded=StressRuns.of(stress, hot.life, hot.failed))

    def __len__(self) -> int:
        return len(self.hot)

    def covariates(self, *, interaction: bool) -> tuple[Array, Array]:
        """Return (n, k) covariates about the middle of the runs, and that middle (2,)."""
        raw = stress_pair(self.hot.stress, self.loaded.stress)
        middle = raw.mean(axis=0)
        return about_middle(raw, middle, interaction), middle


def stress_pair(kelvin: Array, stress: Array) -> Array:
    """Return (n, 2) of 1 / (k T) and log stress."""
    return np.column_stack([-transforms(kelvin, "arrhenius"), transforms(stress, "power")])


def about_middle(raw: Array, middle: Array, interaction: bool) -> Array:
    """Return covariates (n, k) less the middle (2,), and with an interaction their product."""
    x = raw - middle
    return np.column_stack([x, x.prod(axis=1)]) if interaction else x


EFFECTS = (("activation energy", "eV"), ("exponent", ""), ("interaction", "eV"))
"""Name and unit of each covariate's effect."""

TWO_RUNS = an(TwoStressRuns, "Make runs by TwoStressRuns.of(kelvin, stress, life, failed).")


@value
class TwoStressFit(Value):
    """Fitted law of temperature and a second stress; life in the bench's unit.

    Parameters
    ----------
    shape : Parameter
        Common to all runs.
    intercept : Parameter
        Log scale in the middle of the runs.
    activation_ev : Parameter
        Activation energy in eV; with an interaction, at `middle_stress`.
    exponent : Parameter
        Of the second stress, negative where life falls with it; with an interaction, at
        `middle_kelvin`.
    interaction : Parameter or None
        Change of the activation energy with the log of the second stress, in eV.
    interaction_p_value : float or None
        Likelihood-ratio test that there is none, one degree of freedom.
    middle_kelvin, middle_stress : float
        The middle of the runs: of 1 / T and of log stress.
    log_likelihood : float
        Of full densities on the bench's life.
    n, n_failed : int
    """

    shape: Parameter
    intercept: Parameter
    activation_ev: Parameter
    exponent: Parameter
    interaction: Parameter | None
    interaction_p_value: float | None
    middle_kelvin: float
    middle_stress: float
    log_likelihood: float
    n: int
    n_failed: int

    def __repr__(self) -> str:
        shown = (self.shape, self.activation_ev, self.exponent, self.interaction)
        return "\n".join(repr(p) for p in shown if p is not None)

    @gate(kelvin=POSITIVE, stress=POSITIVE)
    def scale(self, kelvin: float, stress: float) -> float:
        """Return the Weibull scale at a temperature in kelvin and a second stress."""
        there = stress_pair(np.array([kelvin]), np.array([stress]))
        middle = stress_pair(np.array([self.middle_kelvin]), np.array([self.middle_stress]))
        effects = [self.activation_ev.estimate, self.exponent.estimate]
        if self.interaction is not None:
            effects.append(self.interaction.estimate)
        x = about_middle(there, middle, self.interaction is not None)[0]
        return math.exp(self.intercept.estimate + float(x @ np.array(effects)))

    @gate(p=PROBABILITY, kelvin=POSITIVE, stress=POSITIVE)
    def life(self, p: float, kelvin: float, stress: float) -> float:
        """Return the life by which a share `p` has failed there."""
        return float(self.scale(kelvin, stress) * (-math.log1p(-p)) ** (1.0 / self.shape.estimate))


@gate(runs=TWO_RUNS, interaction=FLAG, level=LEVEL)
def fit_two_stress(
    runs: TwoStressRuns, *, interaction: bool = False, level: float = 0.90
) -> TwoStressFit:
    """Fit life against temperature and a second stress by maximum likelihood.

    Parameters
    ----------
    runs : TwoStressRuns
        With failures at two temperatures and two second stresses that do not go together.
    interaction : bool
        Whether the activation energy may change with the second stress; asks for failures at four
        pairs or more.
    level : float
        Two-sided confidence of the profile-likelihood limits of the parameters.

    Returns
    -------
    TwoStressFit
        Shape, activation energy and exponent, each with its limits.

    Raises
    ------
    ArgumentError
        If an argument is not what it stands for.
    FitError
        If the failures do not tell the two stresses apart, or the likelihood has no maximum.

    References
    ----------
    Meeker & Escobar (1998), Statistical Methods for Reliability Data, chapters 18
    and 19, for the law; limits as in section 8.3 (both from memory).

    Examples
    --------
    >>> import fleetstats as fs
    >>> kelvin = [353, 353, 353, 353, 393, 393, 393, 393]
    >>> load = [10, 10, 20, 20, 10, 10, 20, 20]
    >>> life = [9000, 12000, 2600, 3900, 2100, 3300, 610, 800]
    >>> fs.fit_two_stress(fs.TwoStressRuns.of(kelvin, load, life, True))
    shape: 5.935 (3.559 to 9.041, 90 %)
    activation energy: 0.4298 eV (0.3605 to 0.4993, 90 %)
    exponent: -1.829 (-2.162 to -1.492, 90 %)
    """
    problem, design, best = solve_two_stress(runs, interaction=interaction)
    law = LawProfile(problem=problem, design=design, best=best, penalty=np.zeros(design.shape[1]))
    effects = [_effect(problem, design, best, j, level) for j in range(1, design.shape[1])]
    p_value = None
    if interaction:
        from scipy.special import chdtrc

        without = solve_two_stress(runs, interaction=False)[2].log_likelihood
        p_value = float(chdtrc(1, max(0.0, 2.0 * (best.log_likelihood - without))))
    middle = runs.covariates(interaction=False)[1]
    return TwoStressFit(
        shape=law.shape(level),
        intercept=law.intercept(level, unit="log life"),
        activation_ev=effects[0],
        exponent=effects[1],
        interaction=effects[2] if interaction else None,
        interaction_p_value=p_value,
        middle_kelvin=1.0 / (BOLTZMANN_EV * float(middle[0])),
        middle_stress=math.exp(middle[1]),
        log_likelihood=best.log_likelihood,
        n=len(runs),
        n_failed=int(runs.hot.failed.sum()),
    )


def solve_two_stress(runs: TwoStressRuns, *, interaction: bool) -> tuple[Problem, Array, Solution]:
    """Return the likelihood, its design (n, 1 + k) and its maximum.

    Raises
    ------
    FitError
        As `fit_two_stress`.
    """
    x, _ = runs.covariates(interaction=interaction)
    design = np.column_stack([np.ones(len(runs)), x])
    failed = design[runs.hot.failed]
    size = np.abs(x).max(axis=0, initial=0.0)
    told = failed / np.concatenate([[1.0], np.where(size > 0.0, size, 1.0)])
    if len(told) == 0 or np.linalg.matrix_rank(told, tol=1e-6) < design.shape[1]:
        raise FitError(
            "The failures do not tell temperature and second stress apart.",
            "Failures are needed at four pairs of two temperatures and two stresses for an "
            "interaction; without one at three pairs that do not lie in a line.",
        )
    lives = Spells.of(0.0, runs.hot.life, runs.hot.failed, weight=runs.hot.weight)
    problem = Problem.of(lives)
    return problem, design, solve_accelerated(problem, design)


def _effect(
    problem: Problem, design: Array, best: Solution, column: int, level: float
) -> Parameter:
    name, unit = EFFECTS[column - 1]
    low, high = profile_coefficient(problem, design, best, column, level)
    return Parameter(
        name=name,
        unit=unit,
        estimate=float(best.coef[column]),
        std_error=math.sqrt(best.covariance()[column, column]),
        low=low,
        high=high,
        level=level,
    )
