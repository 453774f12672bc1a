"""How often the stop rule is reached though nothing has changed: the forecast asked of the rule."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from fleetstats.chapters.ahead import at_rate_now, draw_for_forecast
from fleetstats.chapters.change import Changed
from fleetstats.core.value import Value, value
from fleetstats.spells.running import RunningEngine, ages_of, running_among, widths_of
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.change.evidence import Mixture
from fleetstats.survival.counting.count_law import CountLaw

if TYPE_CHECKING:
    from fleetstats.advice.results import Results


@value
class StopChance(Value):
    """What the forecast says of the failures that the stop rule counts.

    Parameters
    ----------
    failures : int
        Further failures at which the rule ends the advice.
    below_h : float or None
        Hours below which they count; None counts all.
    months : float
        Months from the analysis date to the review.
    expected : float
        Such failures expected until then, if engines go on as they did.
    chance : float
        Chance that there are `failures` or more.
    false_alarm : float
        Chance of a false alarm that the study accepts (``[forecast] false_alarm``).
    surprising : int
        Least count that comes with at most that chance.
    """

    failures: int
    below_h: float | None
    months: float
    expected: float
    chance: float
    false_alarm: float
    surprising: int

    @property
    def contradicts(self) -> bool:
        """Return whether the forecast itself expects as many failures as would end the advice."""
        return self.expected >= self.failures

    @property
    def likely(self) -> bool:
        """Return whether the rule is reached more often than the accepted false alarm."""
        return self.chance > self.false_alarm


def chapter_stop_chance(base: Results, done: Mapping[str, Value]) -> StopChance | None:
    """Return how often the stop rule is reached by itself; None where nothing is forecast."""
    if "forecast" not in done:
        return None
    engines = running_among(base.built.rows, base.spells, base.settings)
    below_h = base.advice.overhaul_band.plan_from.hours
    changed = done.get("change")
    now = changed.mixture if isinstance(changed, Changed) else None
    return stop_chance(base.spells, engines, base.settings, below_h, now=now)


def stop_chance(
    spells: Spells,
    engines: tuple[RunningEngine, ...],
    settings: Settings,
    below_h: float | None,
    *,
    months: float | None = None,
    now: Mixture | None = None,
) -> StopChance | None:
    """Return what the forecast says of the failures that the stop rule counts.

    Failures from causes that the checks cannot see end the advice at any age; they are counted
    below `below_h` only, so that the chance is rather too low.

    Parameters
    ----------
    spells : Spells
        The lives behind the forecast.
    engines : tuple of RunningEngine
        Engines in service.
    settings : Settings
        Tables decision, forecast, evidence.
    below_h : float or None
        Hours below which failures count; None counts all.
    months : float, optional
        Months that are looked ahead; default those to the review.
    now : Mixture, optional
        The rate of now over that of all years, as the forecast takes it.

    Returns
    -------
    StopChance or None
        None where no engine runs, or the use of one is not known.
    """
    if not engines or any(e.use_from == "none" for e in engines):
        return None
    ahead = settings.decision.review_months if months is None else months
    age, width = ages_of(engines), widths_of(engines, months=ahead, hours=None)
    if below_h is not None:
        width = np.clip(below_h - age, 0.0, width)
    draws = at_rate_now(draw_for_forecast(spells, settings, age, width), now)
    law = CountLaw.of_draws(draws.conditional_failure(age, width))
    n, alarm = settings.decision.stop_failures, settings.forecast.false_alarm
    return StopChance(
        failures=n,
        below_h=below_h,
        months=float(ahead),
        expected=law.mean,
        chance=law.at_least(n),
        false_alarm=alarm,
        surprising=law.alert(alarm),
    )
