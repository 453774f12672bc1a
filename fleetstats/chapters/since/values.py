"""Answers of conditions since a date, as values."""

from __future__ import annotations

import datetime as dt

from fleetstats.bands.interval import Interval
from fleetstats.chapters.clocks_and_dates import Rerun
from fleetstats.core.value import Value, value
from fleetstats.spells.days.since import SinceCut


@value
class SinceAnswer(Value):
    """The light answer from what happened after a date.

    Parameters
    ----------
    day : date or None
        None for the answer of all dates.
    run : Rerun
        Lives, failures, hours at risk, evidence, life of the target share, the verdict's word.
    claim : Interval or None
        Reliability at the claimed hours, its lower edge as quoted; None where none are claimed.
    failure_high, accepted : float or None
        At most so many fail by the claimed hours, and how many the study accepts there.
    cut : SinceCut or None
        What was left out and kept; None for the answer of all dates.
    """

    day: dt.date | None
    run: Rerun
    claim: Interval | None
    failure_high: float | None
    accepted: float | None
    cut: SinceCut | None

    @property
    def verdict(self) -> str:
        """Return the word of the verdict on the claim; blank where none is made."""
        return self.run.verdict

    @property
    def life(self) -> Interval:
        """Return the life of the target share, its lower edge as quoted."""
        return self.run.life

    @property
    def n_failed(self) -> float:
        """Return the failures in question after the date."""
        return self.run.n_failed

    @property
    def exposure_h(self) -> float:
        """Return the hours at risk after the date."""
        return self.run.exposure_h


@value
class SinceRuns(Value):
    """The answers since several dates, those of all dates first."""

    answers: tuple[SinceAnswer, ...]
    sentence: str
