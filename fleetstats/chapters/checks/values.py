"""The values of the answer on the check interval."""

from __future__ import annotations

from typing import ClassVar

import numpy as np

from fleetstats.bands.interval import Interval
from fleetstats.core.value import Array, Floats, Value, frozen_array, value
from fleetstats.survival.delay.delay_fitted import DelayFit
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.limits import CONTRADICTED_P


@value
class ModeLine(Value):
    """One failure mode under the checks.

    `detectable`: ``"yes"``, ``"no"`` (named in the study file), ``"not in question"`` (another
    cause than those the study asks about) or ``"never found"`` (failures but
    no finding so far). `slip` is the share at the usual interval, None without a fit of its own.
    """

    mode: str
    detectable: str
    n_found: int
    n_failed: int
    slip: Interval | None = None


@value
class LongestInterval(Value):
    """Longest hours between checks that keep `what` at or under `target`.

    `hours.low` rests on the pessimistic edge of the band. None: no interval searched is short
    (low) or long enough (high) to meet the target.
    """

    what: str
    target: float
    stated: bool
    hours: Interval


@value
class WarningLaw(Value):
    """One law of the warning time beside the others.

    Parameters
    ----------
    law : str
        ``"exponential"``, ``"weibull"`` or ``"unseen-share"``.
    weight : float
        Its share in the averaged estimates, from AICc.
    mean_delay_h, delay_shape, no_warning : float
        Its best mean warning time, shape, and share of faults that no check sees.
    fall : float
        Twice the fall of its log-likelihood below the best law's.
    hours, slip : (m,) float
        Hours between checks (half the interval judged, that, and double) and the share of faults
        that fail first, as estimated.
    slip_low, slip_high : (m,) float or None
        Its limits alone, the widest over the range of detection; None where it is ruled out.
    """

    law: str
    weight: float
    mean_delay_h: float
    delay_shape: float
    no_warning: float
    fall: float
    hours: Floats
    slip: Floats
    slip_low: Array | None
    slip_high: Array | None


@value
class CheckInterval(Value):
    """The answer on the check interval.

    Parameters
    ----------
    verdict : str
        ``"supported"``, ``"not-yet-shown"``, ``"contradicted"``, ``"no-target"`` (the study
        states none) or ``"not-enough-evidence"``.
    sentences : tuple of str
        The answer for a reader, most important first.
    usual_h : float
        Hours between checks that are judged; today's where none is asked.
    made_h : float
        Median hours between the checks that the records hold.
    intervals_h : (m,) float
        Hours between checks that the curves below run over.
    slip, slip_low, slip_high : (m,) float
        Share of faults that fail before a check finds them.
    per_1000_h, per_1000_h_low, per_1000_h_high : (m,) float
        Failures before detection per 1,000 engine hours.
    avoided_per_1000_h : (m,) float
        Failures that the checks avoid per 1,000 h, as estimated.
    cost_per_h, cost_low, cost_high : (m,) float or None
        Money per engine hour; None where the study states no costs.
    cheapest_h : tuple of float or None
        Cheapest interval, and the range within 5 % of its cost.
    detection : tuple of float
        Low, assumed and high chance of detection.
    slip_by_detection : (3, k) float
        Share at `table_h` for the three chances of detection.
    steady_p, faults_shape : float or None
        Where faults were taken to arise steadily: the chance of records this far from it if they
        did, and the power of age that the records would rather have; None otherwise.
    laws : tuple of WarningLaw
        The laws of the warning time that were averaged; empty where one was stated.
    unseen_share : Interval or None
        Share of faults that no check sees, where one was averaged in; profiled beside an
        exponential warning time.
    fits : tuple of DelayFit
        One for each chance of detection; empty without any fault.
    """

    verdict: str
    sentences: tuple[str, ...]
    usual_h: float
    made_h: float
    level: float
    n_lives: int
    n_found: int
    n_failed: int
    n_assumed: int
    exposure_h: float
    identified: bool
    mean_delay: Interval | None = None
    slip_at_usual: Interval | None = None
    per_1000_at_usual: Interval | None = None
    rate_high_per_1000_h: float | None = None
    intervals_h: Array | None = None
    slip: Array | None = None
    slip_low: Array | None = None
    slip_high: Array | None = None
    per_1000_h: Array | None = None
    per_1000_h_low: Array | None = None
    per_1000_h_high: Array | None = None
    avoided_per_1000_h: Array | None = None
    cost_per_h: Array | None = None
    cost_low: Array | None = None
    cost_high: Array | None = None
    cheapest_h: tuple[float, float, float] | None = None
    detection: tuple[float, ...] = ()
    detection_deviance: tuple[float, ...] = ()
    table_h: Array | None = None
    slip_by_detection: Array | None = None
    longest: tuple[LongestInterval, ...] = ()
    modes: tuple[ModeLine, ...] = ()
    cautions: tuple[Caution, ...] = ()
    steady_p: float | None = None
    faults_shape: float | None = None
    laws: tuple[WarningLaw, ...] = ()
    unseen_share: Interval | None = None
    fits: tuple[DelayFit, ...] = ()

    _not_in_dict: ClassVar[tuple[str, ...]] = ("fits",)

    def __post_init__(self) -> None:
        for f in (
            "intervals_h",
            "slip",
            "slip_low",
            "slip_high",
            "per_1000_h",
            "per_1000_h_low",
            "per_1000_h_high",
            "avoided_per_1000_h",
            "cost_per_h",
            "cost_low",
            "cost_high",
            "table_h",
        ):
            if getattr(self, f) is not None:
                object.__setattr__(self, f, frozen_array(getattr(self, f), np.float64))

    @property
    def flatters_old(self) -> bool:
        """Return whether a steady rate was assumed though faults come faster with age."""
        if self.steady_p is None or self.faults_shape is None:
            return False
        return self.steady_p < CONTRADICTED_P and self.faults_shape > 1.0

    def __repr__(self) -> str:
        return "\n".join(
            (
                f"Check interval {self.usual_h:g} h: {self.verdict.replace('-', ' ')}",
                *self.sentences,
            )
        )
