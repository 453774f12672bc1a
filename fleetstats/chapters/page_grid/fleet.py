"""One fleet asked again at other settings, for the grid of the page that answers back.

The rules are those of the report; what is prepared once (the fit, the mixture over shapes, the
resamples) serves every confidence, check interval and cost ratio.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fleetstats.advice.advice import (
    CostAnswer,
    ReliabilityAnswer,
    RiskAnswer,
    TargetAge,
    WearOut,
)
from fleetstats.advice.cost import has_practical_optimum, optimum_age
from fleetstats.advice.equivalents import life_equivalents, poisson_allowance, shape_grid
from fleetstats.advice.life import beyond
from fleetstats.advice.quoted import Quoter, is_few, prepare, worst_low
from fleetstats.advice.risk import SEARCH_SHARE, age_exceeding, worst_chance
from fleetstats.advice.wear_out import advise_wear_out
from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.bands.resampling.refit import refit
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit

AGES = 13
"""Ages at which the chance before the next check is computed; between them its logarithm is
taken as linear in log hours, as it nearly is for a Weibull."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GridFleet:
    """A fleet, with some unreported failures added, prepared to be asked at any confidence.

    `few` is that of the fleet as recorded: made-up failures do not make the shape known.
    `recorded` holds the fleet without them.
    """

    spells: Spells
    recorded: Spells
    fit: Fit | None
    settings: Settings
    quoter: Quoter
    few: bool
    ages_of_least_cost: dict[float, Array]

    @classmethod
    def of(
        cls,
        spells: Spells,
        recorded: Spells,
        fit: Fit | None,
        settings: Settings,
        *,
        few: bool,
        ratios: tuple[float, ...] = (),
    ) -> GridFleet:
        """Prepare a fleet; `ratios` are the cost ratios that will be asked for."""
        asked = prepare(spells, fit, settings, method="shape-mixture" if few else None)
        ages: dict[float, Array] = {}
        if ratios and fit is not None and not few:
            draws = refit(spells, settings.evidence.resamples, seed=settings.study.seed)
            shape, scale = draws.shape[draws.converged], draws.scale_h[draws.converged]
            for ratio in ratios:
                ages[ratio] = np.where(
                    has_practical_optimum(shape, ratio), optimum_age(shape, scale, ratio), np.inf
                )
        return cls(
            spells=spells,
            recorded=recorded,
            fit=fit,
            settings=settings,
            quoter=Quoter(spells=spells, settings=settings, few=few, asked=asked),
            few=few,
            ages_of_least_cost=ages,
        )

    def at(self, level: float) -> GridFleet:
        """Return the same fleet at another two-sided confidence."""
        settings = replace(self.settings, study=replace(self.settings.study, confidence=level))
        quoter = replace(
            self.quoter, settings=settings, asked=replace(self.quoter.asked, level=level)
        )
        return replace(self, settings=settings, quoter=quoter)

    def reliability(self, hours: float) -> Interval:
        """Return the chance of reaching some hours, by the rule of `advice/quoted.py`."""
        out = self.quoter.interval(Quantity.reliability(hours))
        hidden = self.spells.n_failed - self.recorded.n_failed
        if not self.few or hidden <= 0:
            return out
        # As the tipping count does: the exposure as recorded, so many failures more.
        n = float(life_equivalents(self.recorded, shape_grid(self.settings.evidence.shapes),
                                   hours).min())  # fmt: skip
        m = poisson_allowance(self.spells.n_failed, 0.5 * (1 + self.settings.study.confidence))
        low = float(np.exp(-m / n)) if n > 0 else 0.0
        return out if out.low is not None and out.low <= low else replace(out, low=low)

    def life(self, horizon_h: float) -> ReliabilityAnswer:
        """Return the life for the study's target."""
        target = self.settings.targets.reliability
        what = Quantity.life(1.0 - target)
        life = self.quoter.interval(what)
        if self.few and not is_few(self.spells, self.fit):
            low, _ = worst_low(self.spells, what, self.settings)
            if life.low is None or low < life.low:
                life = replace(life, low=low)
        if self.few:  # an age estimated from made-up failures would be made up itself
            life = replace(life, estimate=None, high=None)
        return ReliabilityAnswer(
            state="answered",
            sentence="",
            target=target,
            life=life,
            extrapolated=beyond(life, horizon_h),
        )

    def wear_out(self) -> WearOut:
        """Return whether wear-out is shown."""
        if self.few:
            return WearOut(state="not-enough-evidence", sentence="")
        return advise_wear_out(self.spells, self.fit, self.settings)

    def risk(self, width_h: float, horizon_h: float) -> RiskAnswer:
        """Return the age at which the chance before the next check passes the study's target."""
        target = self.settings.targets.risk_per_check
        if target is None:
            return RiskAnswer(state="no-target", sentence="", width_h=width_h)
        claimed = self.settings.study.claimed_interval_h or 0.0
        far = SEARCH_SHARE * max(self.spells.oldest_h, claimed)
        hours = np.geomspace(far / 200.0, far, AGES)
        curve = self.quoter.asked.curve("conditional", hours, width_h=width_h)
        high = curve.high
        if self.few:
            high = np.fmax(high, worst_chance(self.spells, hours, width_h, self.settings))
        low = None if self.few else _crossing(hours, curve.low, target)
        middle = None if self.few else _crossing(hours, curve.estimate, target)
        age = Interval(
            name="age at which the chance passes the target",
            estimate=middle,
            low=_crossing(hours, high, target),
            high=low,
            level=curve.level,
            method=curve.method,
            unit="h",
        )
        falls = not self.few and float(curve.estimate[0]) > float(curve.estimate[-1])
        return RiskAnswer(
            state="hours-do-not-tell" if falls else "answered",
            sentence="",
            width_h=width_h,
            target=target,
            chosen=TargetAge(target=target, age=age, extrapolated=beyond(age, horizon_h)),
            searched_to_h=far,
        )

    def cost(self, ratio: float | None, wear_out: WearOut, horizon_h: float) -> CostAnswer:
        """Return the cheapest age at a cost ratio, or why there is none."""
        if ratio is None or self.fit is None or ratio not in self.ages_of_least_cost:
            return CostAnswer(state="too-few-failures", sentence="", ratio=ratio)
        if wear_out.state != "wear-out":
            return CostAnswer(state="shape-reaches-one", sentence="", ratio=ratio)
        if not bool(has_practical_optimum(self.fit.shape, ratio)[0]):
            return CostAnswer(state="no-finite-optimum", sentence="", ratio=ratio)
        level = self.settings.study.confidence
        best = float(optimum_age(self.fit.shape, self.fit.scale_h, ratio)[0])
        tails = [0.5 * (1.0 - level), 0.5 * (1.0 + level)]
        ages = self.ages_of_least_cost[ratio]
        low, high = (float(x) for x in np.quantile(ages, tails, method="inverted_cdf"))
        optimum = Interval(
            name="age of least cost",
            estimate=best,
            low=low if np.isfinite(low) else None,
            high=high if np.isfinite(high) else None,
            level=level,
            method="weights-percentile",
            unit="h",
        )
        return CostAnswer(
            state="answered",
            sentence="",
            ratio=ratio,
            optimum=optimum,
            extrapolated=best > horizon_h,
        )


def _crossing(hours: Array, chance: Array, target: float) -> float | None:
    """Return the age at which a chance first passes the target, both axes taken as logarithms."""
    with np.errstate(divide="ignore", invalid="ignore"):
        at = age_exceeding(np.log(hours), np.log(chance), float(np.log(target)))
    if at is None:
        return None
    if at <= float(np.log(hours[0])):
        return 0.0 if chance[0] > target else float(hours[0])
    return float(np.exp(at))
