"""Results of the outlook: each running engine with its chances, signs and place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fleetstats.chapters.ahead.outlook_curves import Chance
from fleetstats.core.value import Value, value
from fleetstats.vocabulary.caution import Caution

if TYPE_CHECKING:
    import pandas as pd


@value
class Sign(Value):
    """Something seen on one engine, from trends or records, that outranks statistics.

    `weight` orders signs: 3 look first, 2 look soon, 1 doubt about the record.
    """

    weight: int
    text: str


@value
class EngineOutlook(Value):
    """One running engine.

    Parameters
    ----------
    age_h, age_high_h : float, float or None
        Hours at the last reading; where they are told as a range its edges, and a chance is then
        that at the edge where it is higher.
    next_check, next_100 : Chance
        Chance of the failure in question within the next check and the next 100 h.
    to_overhaul : Chance or None
        To the planned overhaul; None where none is stated or it is past.
    remaining_low_h, remaining_h, remaining_high_h : float or None
        Further hours within which one in ten of such engines fails, with its band; None where
        they lie past the evidence horizon.
    worn : float
        Share of the running engines that have run fewer hours.
    beyond : bool
        Older than the evidence horizon.
    signs : tuple of Sign
        Reasons to look, heaviest first.
    rank : int or None
        Place on the watch list; None past the horizon without a sign.
    """

    engine: str
    source: str
    build: str
    age_h: float
    read_on: str
    next_check: Chance
    next_100: Chance
    to_overhaul: Chance | None
    remaining_low_h: float | None
    remaining_h: float | None
    remaining_high_h: float | None
    worn: float
    beyond: bool
    signs: tuple[Sign, ...]
    reason: str
    rank: int | None = None
    count: int = 1
    age_high_h: float | None = None


@value
class Outlook(Value):
    """All running engines, worst first; those past the horizon after them.

    Parameters
    ----------
    engines : tuple of EngineOutlook
        Ranked ones in order, then those set apart, oldest first.
    horizon_h : float
        Hours to which the evidence reaches.
    """

    engines: tuple[EngineOutlook, ...]
    sentences: tuple[str, ...]
    level: float
    check_h: float
    planned_h: float | None
    horizon_h: float
    method: str
    why: str
    cautions: tuple[Caution, ...] = ()

    @property
    def ranked(self) -> tuple[EngineOutlook, ...]:
        """Return the engines on the watch list, in order."""
        return tuple(e for e in self.engines if e.rank is not None)

    @property
    def apart(self) -> tuple[EngineOutlook, ...]:
        """Return the engines past the horizon that no sign puts on the list."""
        return tuple(e for e in self.engines if e.rank is None)

    def to_frame(self) -> pd.DataFrame:
        """Return a table with one row to an engine, in the order of the list."""
        import pandas as pd

        rows = []
        for e in self.engines:
            row: dict[str, object] = {"rank": e.rank, "engine": e.engine, "age_h": e.age_h}
            named = (("check", e.next_check), ("next_100", e.next_100), ("overhaul", e.to_overhaul))
            for name, c in named:
                row[name] = None if c is None else c.estimate
                row[f"{name}_low"] = None if c is None else c.low
                row[f"{name}_high"] = None if c is None else c.high
            row |= {"worn": e.worn, "beyond": e.beyond, "reason": e.reason}
            rows.append(row)
        return pd.DataFrame(rows)

    def __repr__(self) -> str:
        top = [f"  {e.rank}. {e.engine}: {e.reason}" for e in self.ranked[:5]]
        return "\n".join(("Outlook of each engine", *self.sentences, *top))
