"""Is the age at which an engine came under observation related to how long it lives?

Delayed entry is handled by conditioning on it, which is right only if entry and life are
independent where both are seen. Owners who join because of trouble, or because their engine is a
good one, break that; the records can show it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetstats.core.gate import HOURS, SEED, gate
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.lives import LIVES
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import RELATED_P

MOST_COMPARED = 6_000
"""Failures compared; of more a sample is drawn, since each is held beside all lives at risk."""

FEWEST_COMPARED = 5
"""Failures with an entry to compare below which nothing is said."""

SETTLING_H = 100.0
"""Hours after joining that are left out as a sensitivity (common practice, no
source)."""

_DRAWS = 4000

MOST_LIVES = 100_000
"""Lives up to which rows that stand for many are taken one by one."""


NO_ENTRY = (
    "No life has hours of entry: each counts as followed from its start, so there is no entry to "
    "check."
)


@value
class EntryCheck(Value):
    """Conditional Kendall's tau of entry age against life.

    Parameters
    ----------
    tau : float or None
        Between -1 and 1; above 0 when engines that joined later fail later than their entry alone
        explains, below 0 when joiners fail early. None when nothing can be compared.
    p_value : float or None
        Two-sided, by drawing entries at random within each risk set.
    n_pairs : float
        Pairs of lives that can be ordered in both ages.
    n_compared : int
        Failures at which at least two different entry ages were at risk.
    share_late : float
        Share of lives that entered above 0 h.
    reading : str
        ``"not-related"`` (not shown), ``"joiners-fail-early"``, ``"joiners-fail-late"``,
        ``"too-few"`` or ``"no-late-entry"``.
    sentence : str
    """

    tau: float | None
    p_value: float | None
    n_pairs: float
    n_compared: int
    share_late: float
    reading: str
    sentence: str
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        return self.sentence


@gate(spells=LIVES, seed=SEED)
def estimate_entry_check(spells: Spells, *, seed: int = 0) -> EntryCheck:
    """Test whether entry age and life are independent, given that entry comes first.

    Parameters
    ----------
    spells : Spells
        A failure known to lie in an interval counts at its middle. A row that stands for several
        lives counts as so many.
    seed : int
        Of the random draws behind the p-value.

    Returns
    -------
    EntryCheck
        Conditional tau and its p-value; None where nothing can be compared.

    Notes
    -----
    At each failure, if entry does not matter, the entry age of the engine that failed is a random
    one of those at risk. The score adds up how many entered before it less those after it.

    References
    ----------
    .. [1] Tsai, W.-Y. (1990). Testing the assumption of independence of truncation time and
       failure time. Biometrika 77, 169-177.
    .. [2] Martin, E. C. and Betensky, R. A. (2005). Testing quasi-independence of failure and
       truncation times via conditional Kendall's tau. JASA 100, 484-492.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(range(0, 600, 50), range(200, 1400, 100), [0, 1] * 6)
    >>> print(fs.estimate_entry_check(lives, seed=1))
    Engines that joined with hours on them failed later than others of their age ...
    """
    end = np.where(
        spells.interval_known, 0.5 * (spells.exit_lower + spells.exit_upper), spells.exit_upper
    )
    late = float(spells.weight[spells.entry > 0].sum())
    share = late / float(spells.weight.sum()) if late else 0.0
    if share == 0.0:
        return EntryCheck(
            tau=None,
            p_value=None,
            n_pairs=0.0,
            n_compared=0,
            share_late=share,
            reading="no-late-entry",
            sentence=NO_ENTRY,
        )
    found = _compare(spells, end, seed)
    score, pairs = (float(x) for x in found.each.sum(axis=0))
    compared, tau = len(found.each), found.tau
    if compared < FEWEST_COMPARED:
        return EntryCheck(
            tau=tau,
            p_value=None,
            n_pairs=pairs,
            n_compared=compared,
            share_late=share,
            reading="too-few",
            sentence=(
                f"Only {compared} failures have engines of other entry ages at risk beside them; "
                f"{FEWEST_COMPARED} are needed to see whether entry is related to life."
            ),
        )
    p = (1.0 + float((np.abs(found.drawn) >= abs(score)).sum())) / (_DRAWS + 1.0)
    tau = 0.0 if tau is None else tau
    reading = _reading(p, tau)
    return EntryCheck(
        tau=tau,
        p_value=p,
        n_pairs=pairs,
        n_compared=compared,
        share_late=share,
        reading=reading,
        sentence=_sentence(reading, tau, p) + found.sample_words(seed),
        cautions=_caution(reading, p),
    )


def not_asked(spells: Spells) -> EntryCheck:
    """Return the check of lives whose own entries are not known, entries paired with ends anew."""
    late = float(spells.weight[spells.entry > 0].sum())
    return EntryCheck(
        tau=None,
        p_value=None,
        n_pairs=0.0,
        n_compared=0,
        share_late=late / float(spells.weight.sum()) if late else 0.0,
        reading="not-asked" if late else "no-late-entry",
        sentence="Whether entry is related to life is not asked: the table was read by chunks, "
        "which keeps how many entered and ended at each age, but not which life is whose."
        if late
        else NO_ENTRY,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Compared:
    """Score and pairs of each failure compared (k, 2), and sums of scores drawn at random."""

    each: Array
    drawn: Array
    n_failed: int

    @property
    def tau(self) -> float | None:
        """Return the score by pair; None without one."""
        score, pairs = self.each.sum(axis=0)
        return float(score / pairs) if pairs else None

    def sample_words(self, seed: int) -> str:
        """Return what is said where a sample of the failures is compared; nothing where all are."""
        if self.n_failed <= MOST_COMPARED or self.tau is None:
            return ""
        off = self.each[:, 0] - self.tau * self.each[:, 1]
        left = 1.0 - MOST_COMPARED / self.n_failed
        error = float(np.sqrt(left * (off**2).sum()) / self.each[:, 1].sum())
        return (
            f" Compared are {MOST_COMPARED:,} of the {self.n_failed:,} failures, drawn with seed "
            f"{seed}, which leaves tau a standard error of {error:.2g} beside that of all."
        )


def _compare(spells: Spells, end: Array, seed: int) -> _Compared:
    """Return how failures compare with lives beside them, and scores with entry unrelated."""
    # each failure keeps its draws when the lives stand in another order
    order = _one_by_one(spells, np.lexsort((spells.failed, spells.entry, end)))
    spells, end = spells.select(order), end[order]
    rng = stream(seed, "entry check")
    levels, level = np.unique(spells.entry, return_inverse=True)
    entry, ended = spells.entry, spells.failed
    failed = np.flatnonzero(ended)
    n_failed = len(failed)
    if n_failed > MOST_COMPARED:
        rows = stream(seed, "entry check sample").choice(n_failed, MOST_COMPARED, replace=False)
        failed = failed[np.sort(rows)]
    each: list[tuple[float, float]] = []
    drawn = np.zeros(_DRAWS)
    on = _OnByLevel(level, len(levels))
    for i in failed.tolist():
        # lives stand in the order of their ends, so that those still running come last
        first = np.searchsorted(end, end[i], side="left")
        past = np.searchsorted(end, end[i], side="right")
        at_risk = entry[first:] < end[i]
        # At equal hours failures come before censorings, and a life is not compared with itself
        # or with one that failed at the same hours.
        ties = np.flatnonzero(ended[first:past])
        at_risk[ties] = False
        at_risk[i - first] = True
        here = level[first:][at_risk]
        count = on.from_row(int(first), ties, i)
        count[np.searchsorted(levels, end[i], side="left") :] = 0
        if count.max() == len(here):
            continue
        # those that entered later and outlived it, less those before: (n - upto) - (upto - count)
        signs = len(here) - 2 * np.cumsum(count) + count
        own = level[i]
        each.append((float(signs[own]), float(len(here) - count[own])))
        drawn += signs[here[rng.integers(0, len(here), _DRAWS)]]
    return _Compared(each=np.array(each).reshape(-1, 2), drawn=drawn, n_failed=n_failed)


class _OnByLevel:
    """How many lives are on from a row on, by level (n,) of their entry; rows are asked rising."""

    def __init__(self, level: Array, n_levels: int) -> None:
        self._level = level
        self._first = 0
        self._count = np.bincount(level, minlength=n_levels)

    def from_row(self, first: int, ties: Array, own: int) -> Array:
        """Return the count of those from `first` on, but of its `ties` (places from it) only one.

        `own` is the row of that one.
        """
        gone = self._level[self._first : first]
        self._first = first
        if len(gone):
            self._count -= np.bincount(gone, minlength=len(self._count))
        out = self._count.copy()
        np.subtract.at(out, self._level[first + ties], 1)
        out[self._level[own]] += 1
        return out


def _one_by_one(spells: Spells, order: Array) -> Array:
    """Return places of lives with each repeated as often as it counts; once for part weights."""
    n = np.rint(spells.weight[order])
    if not np.array_equal(n, spells.weight[order]) or n.sum() > MOST_LIVES:
        return order
    return np.repeat(order, n.astype(np.int64))


def _sentence(reading: str, tau: float, p: float) -> str:
    figure = f"(conditional Kendall's tau {tau:+.2f}, p {p:.2g})".replace(" -", " −")
    if reading == "joiners-fail-early":
        return (
            f"Engines that joined with hours on them failed earlier than others of their age "
            f"{figure}: owners may join because of trouble. Survival is then understated for the "
            "fleet at large; see the answers without the first hours after joining."
        )
    if reading == "joiners-fail-late":
        return (
            f"Engines that joined with hours on them failed later than others of their age "
            f"{figure}: good engines may be the ones that join. Survival is then overstated for "
            "the fleet at large; see the answers for engines followed from new alone."
        )
    return (
        f"The records do not show that entry age is related to life {figure}. That is no proof "
        "that it is not."
    )


def _reading(p: float, tau: float) -> str:
    """Return whether entry age is related to life, and which way."""
    if p >= RELATED_P:
        return "not-related"
    return "joiners-fail-late" if tau > 0 else "joiners-fail-early"


def _caution(reading: str, p: float) -> tuple[Caution, ...]:
    if reading not in ("joiners-fail-early", "joiners-fail-late"):
        return ()
    return (caution("late-entry/related", value=f"p {p:.2g}", limit=f"p {RELATED_P:g}"),)


@gate(spells=LIVES, hours_h=HOURS)
def drop_settling(spells: Spells, hours_h: float = SETTLING_H) -> Spells:
    """Return the lives without the first `hours_h` after joining, for those that joined late.

    A life that ended within those hours is left out altogether: what happened in them may be why
    the engine joined.

    Parameters
    ----------
    spells : Spells
        Lives; those followed from new are kept as they are.
    hours_h : float
        Hours after joining that are left out.

    Returns
    -------
    Spells
        Fewer hours, and at most as many lives.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of([0, 300, 550], [400, 650, 600], [1, 0, 1])
    >>> fs.drop_settling(lives, 100.0).entry
    array([  0., 400.])
    """
    late = spells.entry > 0
    start = spells.entry + np.where(late, hours_h, 0.0)
    begun = np.where(spells.interval_known, spells.exit_lower, spells.exit_upper)
    keep = ~late | (start < begun)
    kept = spells.select(keep)
    return kept.replace(entry=start[keep])
