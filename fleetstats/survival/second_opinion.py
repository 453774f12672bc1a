"""The same question put to two other libraries, and how far their answers lie from ours.

The only door to lifelines and reliability for single fits: their objects stay inside, and their
warnings become notes.
"""

from __future__ import annotations

import contextlib
import warnings
from collections.abc import Callable
from importlib import metadata
from typing import Any

import numpy as np

from fleetstats.core.gate import counted, gate
from fleetstats.core.plain_library import load_drawing_library
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.survival.distribution import DISTRIBUTIONS
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import FIT

MOST_LIVES = 100_000
"""Lives above which the libraries are not asked by default: they need seconds and much memory."""

CLOSE = 1e-3
"""Relative difference up to which answers agree; `reliability` stops up to 3e-4 short."""

STEP_ASIDE = 1.1
"""lifelines starts this factor away from our answer: near enough not to run away with delayed
entry and few failures, far enough that it has to find the peak itself."""

_TROUBLE = (ValueError, ArithmeticError, TypeError, RuntimeError, LookupError, AttributeError)


@value
class Opinion(Value):
    """One library's answer beside ours.

    Parameters
    ----------
    library : str
        Name and version.
    family : str
        What was fitted.
    answered : bool
        Whether it gave finite parameters.
    names : tuple of str
        Our names of the parameters.
    estimate : (k,) float
        The library's values, in our parameters; NaN without an answer.
    relative_difference : (k,) float
        (theirs - ours) / ours; for the lognormal's mu the difference itself, which is relative in
        hours.
    log_likelihood : float or None
        As the library reports it.
    log_likelihood_difference : float or None
        Theirs minus ours: below 0 it stopped short of the maximum; above 0 we did.
    b10_relative_difference : float or None
        Of the age by which 10 % have failed.
    agrees : bool or None
        Parameters and B10 within 0.1 % of ours; None without an answer.
    notes : tuple of str
        Its warnings, or why it could not be asked.
    """

    library: str
    family: str
    answered: bool
    names: tuple[str, ...]
    estimate: Floats
    relative_difference: Floats
    log_likelihood: float | None
    log_likelihood_difference: float | None
    b10_relative_difference: float | None
    agrees: bool | None
    notes: tuple[str, ...]

    def __repr__(self) -> str:
        title = DISTRIBUTIONS[self.family].title
        if not self.answered:
            return f"{self.library}, {title}: no answer. {' '.join(self.notes)}"
        apart = float(np.max(np.abs(self.relative_difference)))
        return (
            f"{self.library}, {title}: largest relative difference {apart:.1e}, log likelihood "
            f"{self.log_likelihood_difference:+.1e}"
        )


@gate(fit=FIT, most_lives=counted(1, 10**9))
def second_opinions(fit: Fit, *, most_lives: int = MOST_LIVES) -> tuple[Opinion, ...]:
    """Ask lifelines and reliability for the same fit, where they can answer it.

    Parameters
    ----------
    fit : Fit
        Our fit, with its spells.
    most_lives : int
        Lives above which they are not asked.

    Returns
    -------
    tuple of Opinion
        One for each library, also when it could not be asked: `notes` then says why.

    References
    ----------
    The figures are the libraries' own: Davidson-Pilon (2019), J. Open Source Softw. 4, 1317, for
    lifelines; for reliability its documentation.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, [400, 650, 800, 900, 1100, 1200], [1, 0, 1, 0, 1, 0])
    >>> [o.library.split()[0] for o in fs.second_opinions(fs.fit_weibull(lives))]
    ['lifelines', 'reliability']
    """
    return (
        _ask("lifelines", fit, _why_not_lifelines(fit, most_lives), _lifelines),
        _ask("reliability", fit, _why_not_reliability(fit, most_lives), _reliability),
    )


def open_libraries() -> None:
    """Import the slower library, so that a process asked later need not wait for it."""
    with contextlib.suppress(ImportError):
        import lifelines  # noqa: F401


Answer = tuple[Array, float]


def _ask(library: str, fit: Fit, why_not: str, ask: Callable[[Fit], Answer]) -> Opinion:
    try:
        title = f"{library} {metadata.version(library)}"
    except metadata.PackageNotFoundError:
        title, why_not = library, "It is not installed."
    if why_not:
        return _silent(title, fit, (why_not,))
    with warnings.catch_warnings(record=True) as heard, np.errstate(all="ignore"):
        warnings.simplefilter("always")
        try:
            estimate, log_likelihood = ask(fit)
        except _TROUBLE as error:
            # Whatever a library trips over is its answer to the question, not ours.
            first = str(error).strip().splitlines()
            said = first[0] if first else type(error).__name__
            return _silent(title, fit, (f"It failed: {said}", *_notes(heard)))
    notes = _notes(heard)
    if not (np.isfinite(estimate).all() and np.isfinite(log_likelihood)):
        return _silent(title, fit, ("Its answer is not finite.", *notes))
    apart = (estimate - fit.estimate) / fit.estimate
    for i, name in enumerate(fit.names):
        if name == "mu":
            apart[i] = estimate[i] - fit.estimate[i]
    tenth = np.array([0.10])
    ours = fit.distribution.quantile(tenth, fit.estimate)[0]
    theirs = fit.distribution.quantile(tenth, estimate)[0]
    b10 = float((theirs - ours) / ours)
    behind = fit.log_likelihood - log_likelihood
    if behind > 1e-6 * max(1.0, abs(fit.log_likelihood)):
        notes = (
            *notes,
            f"It stopped short of the maximum: log likelihood {behind:.2g} below ours.",
        )
    elif behind < -1e-6 * max(1.0, abs(fit.log_likelihood)):
        notes = (*notes, f"It reports a log likelihood {-behind:.2g} above ours: look into it.")
    return Opinion(
        library=title,
        family=fit.family,
        answered=True,
        names=fit.names,
        estimate=estimate,
        relative_difference=apart,
        log_likelihood=log_likelihood,
        log_likelihood_difference=log_likelihood - fit.log_likelihood,
        b10_relative_difference=b10,
        agrees=bool(np.max(np.abs(apart)) <= CLOSE and abs(b10) <= CLOSE),
        notes=notes,
    )


def _silent(title: str, fit: Fit, notes: tuple[str, ...]) -> Opinion:
    none = np.full(len(fit.names), np.nan)
    return Opinion(
        library=title,
        family=fit.family,
        answered=False,
        names=fit.names,
        estimate=none,
        relative_difference=none,
        log_likelihood=None,
        log_likelihood_difference=None,
        b10_relative_difference=None,
        agrees=None,
        notes=notes,
    )


def _notes(heard: list[warnings.WarningMessage]) -> tuple[str, ...]:
    """Return each distinct warning as one line."""
    lines = (" ".join(str(w.message).split()) for w in heard)
    return tuple(dict.fromkeys(f"It warned: {line[:300]}" for line in lines if line))


def _why_not_lifelines(fit: Fit, most: int) -> str:
    if fit.family not in _LIFELINES:
        return "It has no such family."
    if len(fit.spells) > most:
        return f"Not asked: more than {most:,} lives."
    return ""


_LIFELINES: dict[str, tuple[str, tuple[int, ...]]] = {
    "weibull": ("WeibullFitter", (1, 0)),
    "exponential": ("ExponentialFitter", (0,)),
    "lognormal": ("LogNormalFitter", (0, 1)),
    "loglogistic": ("LogLogisticFitter", (0, 1)),
}
"""Class, and where each of its parameters stands among ours."""


def _lifelines(fit: Fit) -> Answer:
    import lifelines

    name, places = _LIFELINES[fit.family]
    fitter: Any = getattr(lifelines, name)()
    s = fit.spells
    aside = fit.estimate * STEP_ASIDE
    if fit.family == "lognormal":
        aside[0] = fit.estimate[0] + 0.1 * fit.estimate[1]
    start = aside[list(places)]
    entry = s.entry if s.entry.any() else None
    if s.interval_known.any():
        exact = s.failed & ~s.interval_known
        fitter.fit_interval_censoring(
            s.exit_lower,
            np.where(s.failed, s.exit_upper, np.inf),
            event_observed=exact,
            entry=entry,
            weights=s.weight,
            initial_point=start,
        )
    else:
        fitter.fit(s.exit_upper, s.failed, entry=entry, weights=s.weight, initial_point=start)
    theirs = np.asarray(fitter.params_.to_numpy(), dtype=np.float64)
    out = np.empty_like(theirs)
    out[list(places)] = theirs
    return out, float(fitter.log_likelihood_)


_RELIABILITY: dict[str, tuple[str, tuple[str, ...]]] = {
    "weibull": ("Fit_Weibull_2P", ("beta", "alpha")),
    "exponential": ("Fit_Exponential_1P", ("Lambda",)),
    "lognormal": ("Fit_Lognormal_2P", ("mu", "sigma")),
    "loglogistic": ("Fit_Loglogistic_2P", ("alpha", "beta")),
    "gamma": ("Fit_Gamma_2P", ("beta", "alpha")),
    "smallest-extreme-value": ("Fit_Gumbel_2P", ("mu", "sigma")),
}
"""Class, and its attributes in the order of our parameters."""


def _why_not_reliability(fit: Fit, most: int) -> str:
    s = fit.spells
    if (s.entry > 0.0).any():
        return "It cannot take delayed entry."
    if s.interval_known.any():
        return "It cannot take failures known only to lie between checks."
    if not np.array_equal(s.weight, np.rint(s.weight)):
        return "It cannot take lives counted in fractions."
    if float(s.weight.sum()) > most:
        return f"Not asked: more than {most:,} lives."
    if len(np.unique(s.exit_upper[s.failed])) < len(fit.names):
        return "It needs failures at two ages."
    return ""


def _fitters() -> Any:
    """Import the library's fits; it sets how pandas shows tables, which is the user's to choose."""
    import pandas as pd

    names = ("float_format", "max_rows", "max_columns", "width")
    kept = {f"display.{n}": pd.get_option(f"display.{n}") for n in names}
    try:
        import reliability.Fitters as Fitters
    finally:
        for name, choice in kept.items():
            pd.set_option(name, choice)
    return Fitters


def _reliability(fit: Fit) -> Answer:
    load_drawing_library()
    fitters = _fitters()
    name, attributes = _RELIABILITY[fit.family]
    s = fit.spells
    count = np.rint(s.weight).astype(int)
    running = ~s.failed
    stopped = np.repeat(s.exit_upper[running], count[running])
    fitted: Any = getattr(fitters, name)(
        failures=np.repeat(s.exit_upper[s.failed], count[s.failed]),
        right_censored=stopped if len(stopped) else None,
        show_probability_plot=False,
        print_results=False,
    )
    out = np.array([float(getattr(fitted, a)) for a in attributes])
    if fit.family == "exponential":
        out = 1.0 / out
    return out, float(fitted.loglik)
