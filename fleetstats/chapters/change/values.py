"""What has changed over the calendar, as values."""

from __future__ import annotations

import datetime as dt

from fleetstats.core.value import Floats, Value, value
from fleetstats.survival.change.evidence import Mixture
from fleetstats.survival.change.power import Power
from fleetstats.survival.change.scan import Change
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.limits import HONEST_P


@value
class ChangeLine(Value):
    """One subject and what the scan says of it.

    Parameters
    ----------
    by : {"all", "cause", "build", "source"}
    name : str
        Blank for all.
    asked : bool
        Whether its failures are those in question.
    hours_before : float
        Hours at risk before the best date.
    change : Change
    p_held : float
        Its chance held over all subjects.
    powers : tuple of Power
        What a doubling and a five-fold rate would have shown.
    """

    by: str
    name: str
    asked: bool
    hours_before: float
    change: Change
    p_held: float
    powers: tuple[Power, ...]

    @property
    def flagged(self) -> bool:
        """Return whether a change is shown."""
        return self.p_held < HONEST_P

    @property
    def rose(self) -> bool:
        """Return whether a rise is shown."""
        return self.flagged and self.change.rose

    @property
    def since(self) -> dt.date:
        """Return the first day of the new rate."""
        return dt.date.fromordinal(int(self.change.day))


@value
class Since(Value):
    """The claim from hours after a date only, beside that from all.

    `failure_high` is at most how many fail by `hours`; `life_low_h` the hours that the target's
    share reaches at least, None without a limit. `state` is the verdict's word.
    """

    day: dt.date
    hours: float
    n_failed: float
    exposure_h: float
    failure_high: float
    state: str
    life_low_h: float | None


@value
class Changed(Value):
    """The chapter on changes.

    Parameters
    ----------
    lines : tuple of ChangeLine
        Each subject with two failures or more that dates place.
    first_day, last_day : date
        Between which hours are known.
    months : (m,) float
        Ends of the months as years with decimals, for the picture.
    seen, due : (m,) float
        Failures so far at each, and those due at equal ages, of the line that leads.
    n_undated : float
        Failures that no date places.
    n_carried : int
        Running engines taken to have flown on since their last reading.
    mixture : Mixture or None
        What the rate in question is now over what all years show.
    since : Since or None
        The claim since the date of the line that leads; None where none rose or nothing is claimed.
    """

    lines: tuple[ChangeLine, ...]
    first_day: dt.date
    last_day: dt.date
    months: Floats
    seen: Floats
    due: Floats
    n_undated: float
    n_carried: int
    mixture: Mixture | None
    since: Since | None
    level: float
    sentence: str = ""
    told: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()

    _not_in_dict = ("mixture",)

    @property
    def flagged(self) -> tuple[ChangeLine, ...]:
        """Return the lines that show a change, the least likely first."""
        return tuple(sorted((x for x in self.lines if x.flagged), key=_order))

    @property
    def leads(self) -> ChangeLine | None:
        """Return the rise in question that speaks loudest; else the first line, if there is one."""
        rises = [x for x in self.flagged if x.rose and x.asked]
        return rises[0] if rises else self.lines[0] if self.lines else None

    def __repr__(self) -> str:
        return "\n".join([self.sentence, *(f"  {t}" for t in self.told)])

    __str__ = __repr__


def _order(line: ChangeLine) -> tuple[float, float]:
    return (line.p_held, -line.change.ratio)
