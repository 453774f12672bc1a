"""The values of the trends: leak-down per cylinder, metal on the plug, oil use."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fleetstats.bands.interval import Interval
from fleetstats.core.value import Bools, Floats, Value, value
from fleetstats.vocabulary.caution import Caution

if TYPE_CHECKING:
    import pandas as pd


STATES = {
    "faster": "falls faster than the fleet",
    "as-the-fleet": "a faster fall is not shown",
    "too-few": "too few checks for a trend",
    "mended": "mended at its last check, not read since",
}
"""States of a cylinder, as a reader sees them."""


@value
class CylinderTrend(Value):
    """One cylinder since its last repair.

    Parameters
    ----------
    state : str
        ``"faster"`` (the whole band of its fall lies above the fleet's mean fall),
        ``"as-the-fleet"`` (a faster fall is not shown), ``"too-few"`` checks, or ``"mended"`` at
        its last check and not read since.
    since_h : float
        Engine hours at which the trend starts: 0, or the last repair.
    n_checks : int
        Checks since then, retested readings counted once.
    last, limit : float
        Last reading and its limit, at the study's supply.
    limit_from : str
        ``"maker"``, ``"reference"`` (orifice read on the day) or ``"default"``.
    fall_per_100_h : Interval or None
        Fall of the level; None with too few readings.
    chance_below : float or None
        Chance that the reading at the next check is below its limit.
    next_h : float
        Engine hours of that check.
    to_limit_h : Interval or None
        Further hours until the level itself is at the limit; edges None where not within
        the hours searched.
    deficit : float
        How far the last reading lies below the engine's other cylinders at that check.
    signs : tuple of str
        What was flagged.
    look_first : bool
        Whether one of the signs asks for a look before anything else.
    hours, reading, ok : (n,) arrays
        Engine hours and readings at the study's supply; `ok` False where a reading is odd.
    line_h, line, line_low, line_high : (m,) float
        Trend with a band for a new reading, to the next check; empty with too few readings.
    earlier_h, earlier : (k,) float
        Readings before the last repair; shown, not used here.
    """

    engine: str
    cylinder: str
    state: str
    since_h: float
    n_checks: int
    last_h: float
    last: float
    limit: float
    limit_from: str
    fall_per_100_h: Interval | None
    chance_below: float | None
    next_h: float
    to_limit_h: Interval | None
    deficit: float
    signs: tuple[str, ...]
    look_first: bool
    hours: Floats
    reading: Floats
    ok: Bools
    line_h: Floats
    line: Floats
    line_low: Floats
    line_high: Floats
    earlier_h: Floats
    earlier: Floats

    @property
    def urgency(self) -> tuple[int, float, float]:
        """Return a key that sorts the worst cylinders first."""
        chance = -1.0 if self.chance_below is None else self.chance_below
        return (-int(self.look_first), -chance, self.last - self.limit)


@value
class PlugSign(Value):
    """One engine's last metal on the plug. `grade` is 0 to 4; `jump` the rise since before."""

    engine: str
    hours_h: float
    grade: int
    jump: int
    chance_of_more: float | None
    sign: str


@value
class OilSign(Value):
    """One engine's oil use: the last reading, its rise per 100 h, and what was flagged."""

    engine: str
    hours_h: float
    last: float
    usual: float
    rise_per_100_h: Interval | None
    sign: str


@value
class Trends(Value):
    """What the checks show over time, worst first.

    Parameters
    ----------
    cylinders : tuple of CylinderTrend
        Worst first.
    plugs, oils : tuple of PlugSign, OilSign
        Engines whose metal or oil use was flagged; `n_plug` and `n_oil` readings were seen.
    noise : dict
        Standard deviations of the readings: engine, cylinder, check, noise; in the pressure unit.
    share_below : float
        Share of all last readings below their limit.
    unit : str
        Unit of the pressures; `supply` is the study's.
    """

    cylinders: tuple[CylinderTrend, ...]
    sentences: tuple[str, ...]
    level: float
    unit: str
    supply: float
    min_readings: int
    n_readings: int
    n_replaced: int
    noise: dict[str, float]
    fleet_fall_per_100_h: Interval | None
    plugs: tuple[PlugSign, ...] = ()
    n_plug: int = 0
    oils: tuple[OilSign, ...] = ()
    n_oil: int = 0
    cautions: tuple[Caution, ...] = ()

    @property
    def look_first(self) -> tuple[CylinderTrend, ...]:
        """Return the cylinders to look at before anything else."""
        return tuple(c for c in self.cylinders if c.look_first)

    def to_frame(self) -> pd.DataFrame:
        """Return a table with one row to a cylinder, worst first; chances as shares."""
        import pandas as pd

        def edge(x: Interval | None, name: str) -> float | None:
            return None if x is None else getattr(x, name)

        return pd.DataFrame(
            {
                "engine": [c.engine for c in self.cylinders],
                "cylinder": [c.cylinder for c in self.cylinders],
                "last_h": [c.last_h for c in self.cylinders],
                "reading": [c.last for c in self.cylinders],
                "limit": [c.limit for c in self.cylinders],
                "limit_from": [c.limit_from for c in self.cylinders],
                "n_checks": [c.n_checks for c in self.cylinders],
                "state": [c.state for c in self.cylinders],
                "fall_per_100_h": [edge(c.fall_per_100_h, "estimate") for c in self.cylinders],
                "fall_low": [edge(c.fall_per_100_h, "low") for c in self.cylinders],
                "fall_high": [edge(c.fall_per_100_h, "high") for c in self.cylinders],
                "chance_below": [c.chance_below for c in self.cylinders],
                "look_first": [c.look_first for c in self.cylinders],
                "signs": ["; ".join(c.signs) for c in self.cylinders],
            }
        )

    def __repr__(self) -> str:
        top = [
            f"  {c.engine} cylinder {c.cylinder}: {'; '.join(c.signs) or STATES[c.state]}"
            for c in self.cylinders[:5]
        ]
        return "\n".join(("Trends", *self.sentences, *top))
