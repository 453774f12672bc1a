"""Use per year and the clocks of causes, as values."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.survival.clocks.which_clock import WhichClock
from fleetstats.survival.groups.equal_ages import EqualAges
from fleetstats.vocabulary.caution import Caution


@value
class CauseClock(Value):
    """A cause and the clock that it follows.

    `cause` is empty for all failures in question together; `clock` is None where fewer than five
    failed of it, or no law fits.
    """

    cause: str
    n_failed: float
    clock: WhichClock | None


@value
class UsePerYear(Value):
    """Engines flown little beside engines flown much, and hours beside years for each cause.

    Parameters
    ----------
    n_lives : float
        Lives whose use is known: the dates of beginning and end, 90 days apart or more.
    n_unknown : float
        Lives whose use is not known; they are in none of this.
    low_h, median_h, high_h : float
        Hours a year below which a tenth, half and nine tenths of the lives were flown.
    at_hours, at_years : EqualAges or None
        Failures of the lives flown less than the median beside the others: at equal hours, and at
        equal years. None where either half has no life, or none failed.
    clocks : tuple of CauseClock
        All failures first, where there are several causes; then each cause, most failures first.
    cautions : tuple of Caution
        Causes that go by years.
    """

    n_lives: float
    n_unknown: float
    low_h: float
    median_h: float
    high_h: float
    at_hours: EqualAges | None
    at_years: EqualAges | None
    clocks: tuple[CauseClock, ...]
    cautions: tuple[Caution, ...]
    sentence: str
