"""The values of the fleet's forecast."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fleetstats.core.value import Floats, Ints, Value, value
from fleetstats.survival.counting.count_law import CountLaw
from fleetstats.vocabulary.caution import Caution

if TYPE_CHECKING:
    import pandas as pd


@value
class CountForecast(Value):
    """A count to come: expected, and between which counts it will lie.

    `low` to `high` hold the outcome with at least the chance `level`; they carry the doubt of the
    parameters and the play of chance. `none` is the chance of a zero.
    """

    what: str
    expected: float
    low: int
    high: int
    level: float
    none: float
    law: CountLaw

    @classmethod
    def of(cls, what: str, law: CountLaw, level: float) -> CountForecast:
        """Read the forecast from the law of the count."""
        low, high = law.interval(level)
        return cls(
            what=what,
            expected=law.mean,
            low=low,
            high=high,
            level=level,
            none=law.none,
            law=law,
        )


@value
class Season(Value):
    """The forecast month by month, and when to worry.

    Parameters
    ----------
    month : (m,) float
        Months from the analysis date.
    expected, low, high : (m,) float
        Failures up to then, with the prediction interval.
    alert : (m,) int
        Count at which to worry: over all looks together it is reached with at most the stated
        chance if nothing has changed.
    false_alarm : float
        That chance as asked; `false_alarm_held` as simulated.
    """

    month: Floats
    expected: Floats
    low: Floats
    high: Floats
    alert: Ints
    false_alarm: float
    false_alarm_held: float


@value
class Spares(Value):
    """Spare engines so that none is missing while removed ones are in the shop.

    `levels` are chances that the spares suffice, `needed` the numbers for them; `stated` the
    study's own level and `at_stated` its number.
    """

    repair_months: float
    levels: tuple[float, ...]
    needed: tuple[int, ...]
    stated: float
    at_stated: int


@value
class Reserve(Value):
    """Money to put by for each engine hour.

    Parameters
    ----------
    currency : str
        Name of the money; "planned overhauls" where the study states none.
    levels : tuple of float
        Chances that the money suffices.
    per_h : tuple of float
        Money per engine hour over the forecast, at those chances.
    mean_per_h : float
        Expected money per engine hour.
    fleet_hours : float
        Engine hours of the whole fleet in the forecast.
    long_run_per_h : tuple of float or None
        5th percentile, median and 95th percentile of the cost in the long run with overhaul at
        the planned hours; None where no such hours are stated.
    """

    currency: str
    levels: tuple[float, ...]
    per_h: tuple[float, ...]
    mean_per_h: float
    fleet_hours: float
    long_run_per_h: tuple[float, float, float] | None


@value
class Forecast(Value):
    """What is coming for the fleet.

    Parameters
    ----------
    span : str
        What the forecast covers, in words.
    sentences : tuple of str
        The answer, most important first.
    failures : CountForecast
        Failures in question.
    overhauls : CountForecast or None
        Engines that reach the planned overhaul.
    findings : CountForecast or None
        Removals because of a finding, at the pace seen.
    removals : CountForecast
        All of these together.
    past_planned : int
        Engines that are past the planned hours already; not counted as due.
    beyond : int
        Engines that are, or will be, past the evidence horizon.
    share_beyond : float
        Share of the expected failures that lies past the horizon, hence extrapolation.
    plug_in : tuple of int
        The interval that would come of putting the fitted parameters in; shown to warn, not used.
    rate_now : str
        What the rate of now is taken to be beside that of all years, in words; blank where a change
        is unlikely.
    """

    span: str
    sentences: tuple[str, ...]
    level: float
    n_running: int
    n_failed_seen: float
    fleet_hours: float
    method: str
    why: str
    failures: CountForecast
    removals: CountForecast
    overhauls: CountForecast | None = None
    findings: CountForecast | None = None
    past_planned: int = 0
    planned_h: float | None = None
    beyond: int = 0
    share_beyond: float = 0.0
    horizon_h: float = 0.0
    n_stale: int = 0
    n_use_assumed: int = 0
    n_between: int = 0
    n_builds: int = 1
    season: Season | None = None
    spares: Spares | None = None
    reserve: Reserve | None = None
    no_reserve: str = ""
    plug_in: tuple[int, int] | None = None
    cautions: tuple[Caution, ...] = ()
    rate_now: str = ""

    def to_frame(self) -> pd.DataFrame:
        """Return a table with one row to a kind of count: expected, low, high, chance of none."""
        import pandas as pd

        kinds = (self.failures, self.overhauls, self.findings, self.removals)
        return pd.DataFrame(
            [
                {"what": c.what, "expected": c.expected, "low": c.low, "high": c.high,
                 "level": c.level, "none": c.none}
                for c in kinds
                if c is not None
            ]
        )  # fmt: skip

    def __repr__(self) -> str:
        return "\n".join((f"Forecast for {self.span}", *self.sentences))
