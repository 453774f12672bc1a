"""Failures by cause: one fit per cause, what overhaul renews, and causes that nobody wrote down.

The life that would be seen if only one cause existed is not in the records: it follows only if
causes strike independently, which records cannot test (Tsiatis 1975). What the records do hold is
the share of lives that each cause ends, the cumulative incidence.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.arguments import of_kind, wrong_kind
from fleetstats.core.errors import FitError
from fleetstats.core.gate import FLAGS, HOURS_ANY, TEXT, TEXTS, ArgumentKind, counted, gate
from fleetstats.core.value import Array, Value, value
from fleetstats.spells import Event, Spells
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import LIVES
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.unknown import cause_known

UNKNOWN = "cause not known"

ALLOCATIONS = {
    "all": "every failure of unknown cause counts",
    "none": "no failure of unknown cause counts",
    "proportional": "failures of unknown cause are shared out as the known ones fell",
}


@value
class CauseFit(Value):
    """One cause: failures, hours at risk and its Weibull fit, other causes as censorings.

    `fit` is None where the likelihood has no maximum; `reason` then says why.
    """

    cause: str
    n_failed: float
    renewed: bool
    fit: Fit | None
    reason: str = ""


def cause_of(spells: Spells) -> Array:
    """Return (n,) str: the cause of each failure, of this question or another; blank if none.

    Spellings that differ in case, hyphens or spaces are one cause; unknown ones get one name.
    """
    ended = (spells.event == Event.FAILED) | (spells.event == Event.COMPETING)
    seen: dict[str, str] = {}
    out = []
    for cause, is_end in zip(spells.cause.tolist(), ended.tolist(), strict=True):
        if not is_end:
            out.append("")
        elif not cause_known(cause):
            out.append(UNKNOWN)
        else:
            out.append(seen.setdefault(fold(cause), cause.strip()))
    return np.array(out, dtype=np.str_) if out else np.zeros(0, dtype=np.str_)


def _cause_fits(value: object, name: str) -> object:
    right = "Give the fits that fs.fit_causes(lives) returns."
    if not isinstance(value, tuple | list):
        raise wrong_kind(name, value, right)
    for i, one in enumerate(value):
        of_kind(one, f"{name}[{i}]", CauseFit, right)
    return value


CAUSE_FITS = ArgumentKind(word="object", check=_cause_fits, settles=False)


@gate(spells=LIVES, failing=FLAGS)
def count_as(spells: Spells, failing: ArrayLike) -> Spells:
    """Return the lives with exactly the failures where `failing` (n,) is true in question.

    Other failures become failures from another cause. One found at a check and known only to lie
    in an interval then censors at the middle of it.

    Parameters
    ----------
    spells : Spells
        n lives.
    failing : (n,) bool
        True where the failure of that life is in question; only failures are looked at.

    Returns
    -------
    Spells
        The same lives with the events changed.

    References
    ----------
    Cause by cause as if the others censored: Tsiatis (1975), Proc. Natl Acad. Sci. 72, 20-22, on
    what that assumes.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(
    ...     0, range(100, 1300, 100), [1, 0] * 6, cause=["gear", ""] * 3 + ["valve", ""] * 3
    ... )
    >>> fs.count_as(lives, lives.cause == "gear").n_failed
    3.0
    """
    fail = np.asarray(failing, dtype=bool)
    ended = (spells.event == Event.FAILED) | (spells.event == Event.COMPETING)
    event = np.where(ended, np.where(fail, Event.FAILED, Event.COMPETING), spells.event)
    middle = 0.5 * (spells.exit_lower + spells.exit_upper)
    to_middle = ended & ~fail & spells.interval_known
    lower = np.where(to_middle, middle, spells.exit_lower)
    upper = np.where(to_middle, middle, spells.exit_upper)
    return spells.replace(event=event, exit_lower=lower, exit_upper=upper)


@gate(spells=LIVES, not_renewed=TEXTS)
def fit_causes(spells: Spells, *, not_renewed: tuple[str, ...] = ()) -> tuple[CauseFit, ...]:
    """Fit a Weibull to each cause, most failures first.

    Parameters
    ----------
    spells : Spells
        Failures of this question and from other causes are both told apart by their cause.
    not_renewed : tuple of str
        Causes that an overhaul does not mend.

    Returns
    -------
    tuple of CauseFit
        One for each cause; `fit` is None where there is none, and `reason` says why.

    References
    ----------
    .. [1] Meeker, Escobar & Pascual (2021). Statistical Methods for Reliability Data, chapter 16.
    .. [2] Lawless (2003), chapter 9.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(
    ...     0, range(100, 1300, 100), [1, 0] * 6, cause=["gear", ""] * 3 + ["valve", ""] * 3
    ... )
    >>> [(c.cause, c.n_failed) for c in fs.fit_causes(lives)]
    [('gear', 3.0), ('valve', 3.0)]
    """
    label = cause_of(spells)
    spared = {fold(c) for c in not_renewed}
    out = []
    for cause in sorted(np.unique(label[label != ""]).tolist(), key=fold):
        lives = count_as(spells, label == cause)
        fit, reason = None, ""
        try:
            fit = fit_weibull(lives)
        except FitError as error:
            reason = error.message
        out.append(
            CauseFit(
                cause=cause,
                n_failed=lives.n_failed,
                renewed=fold(cause) not in spared,
                fit=fit,
                reason=reason,
            )
        )
    return tuple(sorted(out, key=lambda c: (c.cause == UNKNOWN, -c.n_failed, fold(c.cause))))


@gate(fits=CAUSE_FITS, hours=HOURS_ANY)
def reliability_of_all(fits: tuple[CauseFit, ...], hours: ArrayLike) -> Array:
    """Return the chance of no failure from any fitted cause, if causes strike independently.

    Parameters
    ----------
    fits : tuple of CauseFit
        As `fit_causes` returns them; causes without a fit are left out.
    hours : (m,) float
        Ages.

    Returns
    -------
    (m,) ndarray
        The product of the reliabilities.

    References
    ----------
    Meeker, Escobar & Pascual (2021), Statistical Methods for Reliability Data, chapter
    16; Tsiatis (1975), Proc. Natl Acad. Sci. 72, 20-22, that records cannot test independence.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(
    ...     0, range(100, 1300, 100), [1, 0] * 6, cause=["gear", ""] * 3 + ["valve", ""] * 3
    ... )
    >>> fs.reliability_of_all(fs.fit_causes(lives), [500, 1000]).round(3)
    array([0.81 , 0.432])
    """
    t = np.asarray(hours, dtype=float)
    total = np.zeros_like(t)
    for c in fits:
        if c.fit is not None:
            total = total + c.fit.cumulative_hazard(t)
    return np.asarray(np.exp(-total))


@gate(fits=CAUSE_FITS, cause=TEXT, hours=HOURS_ANY, steps=counted(1, 100_000))
def parametric_incidence(
    fits: tuple[CauseFit, ...], cause: str, hours: ArrayLike, *, steps: int = 64
) -> Array:
    """Return the share of lives that one cause ends by each of `hours`, from the fits.

    The integral of that cause's hazard times the reliability of all, by Gauss-Legendre on each
    stretch between 0 and the hours.

    Parameters
    ----------
    fits : tuple of CauseFit
        As `fit_causes` returns them.
    cause : str
        The one that is asked for.
    hours : (m,) float
        Ages.
    steps : int
        Nodes of the integral.

    Returns
    -------
    (m,) ndarray
        Shares in [0, 1].

    Raises
    ------
    FitError
        If that cause has no fit.

    References
    ----------
    Lawless (2003), Statistical Models and Methods for Lifetime Data, chapter 9.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(
    ...     0, range(100, 1300, 100), [1, 0] * 6, cause=["gear", ""] * 3 + ["valve", ""] * 3
    ... )
    >>> fits = fs.fit_causes(lives)
    >>> fs.parametric_incidence(fits, "gear", [500, 1000]).round(3)
    array([0.181, 0.296])
    """
    one = [c.fit for c in fits if c.cause == cause and c.fit is not None]
    if not one:
        raise FitError(f"No fit for the cause '{cause}'.", "It needs failures at two ages or more.")
    nodes, weights = np.polynomial.legendre.leggauss(steps)
    out = []
    for t in np.atleast_1d(np.asarray(hours, dtype=float)):
        # Integrating over v = H(u) of the cause itself removes the spike of a shape below 1, and
        # v = top w^4 the corner of the other causes' hazards at 0.
        top = float(one[0].cumulative_hazard(t))
        w = 0.5 * (nodes + 1.0)
        u = one[0].scale_h * (top * w**4) ** (1.0 / one[0].shape)
        out.append(2.0 * top * float((weights * w**3) @ reliability_of_all(fits, u)))
    return np.array(out)


def allocate_unknown(spells: Spells, wanted: ArrayLike, how: str) -> tuple[Spells, float] | None:
    """Return lives in which the wanted causes fail, failures of unknown cause treated one way.

    Parameters
    ----------
    spells : Spells
        Lives with causes.
    wanted : (n,) bool
        Failures whose known cause is in question.
    how : str
        A key of `ALLOCATIONS`.

    Returns
    -------
    (Spells, float) or None
        The lives, and the failures counted among those of unknown cause. ``"proportional"`` splits
        each such failure into a failed and a censored part by weight, in the ratio of the known
        ones; None if there are none to go by.

    Raises
    ------
    FitError
        If `how` is not known.
    """
    if how not in ALLOCATIONS:
        raise FitError(f"Unknown causes cannot be treated as '{how}'.", "Use all or none.")
    want = np.asarray(wanted, dtype=bool)
    label = cause_of(spells)
    unknown = label == UNKNOWN
    n_unknown = float(spells.weight[unknown].sum())
    if how == "all":
        return count_as(spells, want | unknown), n_unknown
    if how == "none" or not unknown.any():
        return count_as(spells, want & ~unknown), 0.0
    known = (label != "") & ~unknown
    if not known.any():
        return None
    share = float(spells.weight[want & known].sum() / spells.weight[known].sum())
    if share in (0.0, 1.0):
        return allocate_unknown(spells, want, "all" if share == 1.0 else "none")
    base = count_as(spells, want & ~unknown)
    rest = base.replace(weight=np.where(unknown, base.weight * (1.0 - share), base.weight))
    part = count_as(spells, unknown).select(unknown)
    part = part.replace(weight=part.weight * share)
    return rest.join(part), share * n_unknown
