"""How many failures nobody reported, as values."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.survival.counting.capture import Unseen
from fleetstats.vocabulary.caution import Caution


@value
class Overlap(Value):
    """Failures of engines that the same sources cover, by who told them.

    Parameters
    ----------
    sources : tuple of str
        Who could have told each of them.
    n_engines : int
        Engines that these sources cover, failed or not.
    patterns : tuple of (tuple of bool, int)
        For each pattern of telling, in the order of `sources`, how many failures were told so.
    n_undated : int
        Failures without a date, taken as within the time of all sources.
    models : tuple of Unseen
        One for each model of how the sources depend on each other; the independent one first.
    best : int or None
        Place of the one that is quoted; None where the overlap tells nothing.
    dependent : tuple of Unseen
        Of two sources: the estimate at stated odds ratios.
    """

    sources: tuple[str, ...]
    n_engines: int
    patterns: tuple[tuple[tuple[bool, ...], int], ...]
    n_undated: int
    models: tuple[Unseen, ...]
    best: int | None
    dependent: tuple[Unseen, ...]

    @property
    def n_told(self) -> int:
        """Return the failures that one or more of the sources told."""
        return sum(n for _, n in self.patterns)

    @property
    def quoted(self) -> Unseen | None:
        """Return the estimate that is quoted."""
        return None if self.best is None else self.models[self.best]

    def told_by(self, which: int) -> int:
        """Return the failures that one source told, whoever else did."""
        return sum(n for told, n in self.patterns if told[which])


@value
class Unreported(Value):
    """How many failures nobody reported.

    Parameters
    ----------
    state : str
        ``"answered"``, or ``"not-enough-evidence"`` where no overlap tells anything.
    overlaps : tuple of Overlap
        By the sources that cover the engines; no engine is in two.
    stated : tuple of str
        Sources that the study says are of one population.
    n_failed : int
        Failures in question in the records.
    n_alone : int
        Those that one source alone could have told, which no overlap speaks of.
    estimate : float
    low, high : int or None
        Failures that nobody told, over all overlaps; `high` is None where there is no limit.
    level : float
        Two-sided confidence of the limits; each holds with (1 + level) / 2.
    claimed_h, accepted_failure : float or None, float
    to_turn : int or None
        The fewest unreported failures with which a supported claim is not supported any more; None
        where it is not supported, or no number tried turns it.
    failure_high, failure_high_with : float or None
        Bound of the chance of failure by the claimed hours as recorded, and with as many more
        failures as are estimated, at the least favourable ages.
    cautions : tuple of Caution
    """

    state: str
    sentence: str
    overlaps: tuple[Overlap, ...]
    stated: tuple[str, ...]
    n_failed: int
    n_alone: int
    estimate: float
    low: int | None
    high: int | None
    level: float
    claimed_h: float | None
    accepted_failure: float
    to_turn: int | None
    failure_high: float | None
    failure_high_with: float | None
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        return self.sentence

    __str__ = __repr__
