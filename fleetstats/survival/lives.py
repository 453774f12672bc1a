"""The lives and the fit that a public function is given, and whether the two belong together."""

from __future__ import annotations

import numpy as np

from fleetstats.core.arguments import of_kind, wrong
from fleetstats.core.errors import ArgumentError
from fleetstats.core.gate import an
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.spells.histories import Histories
from fleetstats.study.settings import EvidenceKeys, Settings
from fleetstats.survival.fit import Fit

CLOSE = 1e-9
"""Relative difference that sums of hours may have by rounding."""


LIVES_RIGHT = "Make lives by fs.Spells.of(entry, exit, failed)."
FIT_RIGHT = "Make one by fs.fit_weibull(lives) or fs.fit_family."
LIVES = an(Spells, LIVES_RIGHT)
FIT = an(Fit, FIT_RIGHT)
HISTORIES = an(Histories, "Make them by Histories.of(unit, start_h, end_h, event_unit, event_h).")
SETTINGS = an(Settings, "Give the settings of a study, as fs.read_study(folder).settings.")
EVIDENCE = an(EvidenceKeys, "Give the `evidence` of a study's settings.")


def lives_of_call(value: object, name: str = "spells", *, least: int = 0) -> Spells:
    """Return the lives that a function was given.

    Raises
    ------
    ArgumentError
        If they are no `Spells`, or fewer than `least`.
    """
    lives = of_kind(value, name, Spells, LIVES_RIGHT)
    if len(lives) < least:
        raise wrong(name, value, f"Give at least {least} {'life' if least == 1 else 'lives'}.")
    return lives


def fit_of_call(value: object, name: str = "fit") -> Fit:
    """Return the fit that a function was given; an `ArgumentError` if it is none."""
    return of_kind(value, name, Fit, FIT_RIGHT)


def fit_of_lives(fit: Fit | None, spells: Spells, name: str = "fit") -> Fit | None:
    """Return the fit, once it is known to be made from these lives; None stays None.

    The same object needs no look. Others are held against each other by sums that decide every
    likelihood of lives and that neither order, weights nor a cut of a life into two changes.

    Raises
    ------
    ArgumentError
        If it is no fit, or one of other lives.
    """
    if fit is None or fit_of_call(fit, name).spells is spells or same_evidence(fit.spells, spells):
        return fit
    raise ArgumentError(
        f"{name} was made from {fit.n:g} lives, {fit.n_failed:g} failed, and spells holds "
        f"others: {spells!r}.",
        "Fit these lives, or ask the fit itself: fit.band(...) answers for fit.spells.",
    )


def same_evidence(one: Spells, other: Spells) -> bool:
    """Return whether two sets of lives hold the same hours at risk and the same failures."""
    if abs(one.n_failed - other.n_failed) > CLOSE * max(1.0, one.n_failed):
        return False
    return bool(np.allclose(_sums(one), _sums(other), rtol=CLOSE, atol=1e-12))


def _sums(spells: Spells) -> Array:
    """Return sums over hours at risk and over failures of functions of age, none negative."""
    w, failed = spells.weight, spells.failed
    out = []
    for of in (lambda h: h, np.sqrt, np.log1p, np.square):
        end = of(spells.exit_upper)
        out.append(w @ (end - of(spells.entry)))
        out.append(w[failed] @ end[failed])
        out.append(w[failed] @ of(spells.exit_lower[failed]))
    return np.array(out)
