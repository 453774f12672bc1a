"""A watch, as values."""

from __future__ import annotations

import datetime as dt

from fleetstats.core.value import Value, value
from fleetstats.survival.change.watching import WatchLine
from fleetstats.vocabulary.caution import Caution

STATES = ("quiet", "look", "alarm")
"""What a line may say, the least first."""


@value
class WatchRow(Value):
    """One line of a watch with whose failures it counts.

    `by` is "all", "cause" (known to the baseline) or "new" (a cause that it does not know). `share`
    of the stated chance of a false alarm is this line's; `sentence` says it.
    """

    by: str
    name: str
    share: float
    line: WatchLine
    sentence: str = ""

    @property
    def state(self) -> str:
        """Return "quiet", "look" or "alarm"."""
        return self.line.state


@value
class First(Value):
    """An engine to look at first, and why."""

    engine: str
    source: str
    build: str
    hours: float
    why: str


@value
class FleetWatch(Value):
    """What the months since a study show.

    Parameters
    ----------
    base_day, until, end_day : date
        Last day of the baseline, day up to which failures are known, planned end of the watch.
    why_base : str
        Where the first of these comes from.
    n_running : int
        Engines exposed: those taken to fly.
    hours_before, hours_since : float
        Hours of the baseline and of the watch so far.
    lines : tuple of WatchRow
        All failures first, then causes.
    first : tuple of First
        Engines to look at first; empty while all is quiet.
    false_alarm, looks : float
        Chance of any alarm by accident over `GUARD_YEARS` of watching, and of any look over a year.
    n_undated, n_stale, n_twice : float
        Failures that no date places; running engines not read for too long and so not exposed;
        rows that tell an engine of the list again, of which the one that knows more counts.
    screen : tuple of str
        All of it in lines.
    """

    base_day: dt.date
    until: dt.date
    end_day: dt.date
    why_base: str
    n_running: int
    hours_before: float
    hours_since: float
    lines: tuple[WatchRow, ...]
    first: tuple[First, ...]
    false_alarm: float
    looks: float
    n_undated: float
    n_stale: int
    n_twice: int
    sentence: str = ""
    screen: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()

    @property
    def state(self) -> str:
        """Return the gravest state of any line."""
        return max((x.state for x in self.lines), key=STATES.index, default="quiet")

    def __repr__(self) -> str:
        return "\n".join(self.screen)

    __str__ = __repr__
