"""What a plan of further evidence consists of, as values."""

from __future__ import annotations

import datetime as dt

from fleetstats.core.value import Floats, Matrix, Value, value


@value
class PlanNeed(Value):
    """What is missing at one assumed shape.

    Parameters
    ----------
    equivalents, needed, missing : float
        Whole lives to the target age: in hand, needed with the allowed failures, still missing.
    new_to_target, new_to_run : int
        New engines run to the target age, or to `Plan.run_to_h`, that fill the gap.
    hours_each, fleet_hours : float or None
        Hours that each running engine must add, and their sum; None if it cannot be reached.
    years : float or None
        Time for that at the stated yearly use.
    shown_on : date or None
        Analysis date plus that time.
    chance : float or None
        Chance that no more than the allowed failures happen on the way, if the truth is as assumed.
    """

    shape: float
    equivalents: float
    needed: float
    missing: float
    new_to_target: int
    new_to_run: int
    hours_each: float | None
    fleet_hours: float | None
    years: float | None
    shown_on: dt.date | None
    chance: float | None
    least_favourable: bool = False


@value
class PlanOption(Value):
    """One way to gather evidence, at one assumed shape.

    Parameters
    ----------
    option : str
        ``"new"`` (engines run from new) or ``"oldest"`` (the oldest running engines run on).
    n_engines : int
        Engines used; fewer than asked for if so many are not running.
    added_hours : float
        Engine hours that the plan adds.
    failure_high_now, failure_high_after : float
        Upper bound of the failure chance by the target age, now and if nothing fails.
    shown_to_now_h, shown_to_after_h : float
        Hours to which the target reliability is shown.
    expected_failures, chance_none : float
        On the way, if the truth is as assumed.
    chance_worse : float
        Chance that the bound ends above today's.
    failures_allowed : int or None
        Failures with which the target is still shown; None if not even with none.
    chance_upset : float or None
        Chance of more failures than that; None where the target is not shown even with none.
    """

    option: str
    shape: float
    n_engines: int
    run_to_h: float
    added_hours: float
    failure_high_now: float
    failure_high_after: float
    shown_to_now_h: float
    shown_to_after_h: float
    expected_failures: float
    chance_none: float
    chance_worse: float
    failures_allowed: int | None
    chance_upset: float | None


@value
class SuccessRun(Value):
    """Engines to run from new to `run_to_h` without failure, for one shape."""

    run_to_h: float
    shape: float
    n_engines: int


@value
class PlanStep(Value):
    """One step up in hours, led by a few engines.

    Parameters
    ----------
    from_h, to_h : float
        Hours at which the fleet stands, and to which the leaders run.
    n_leaders : int or None
        Oldest running engines that must reach `to_h` without failure; 0 if the records show it
        already; None if all running engines would not be enough.
    worst_shape : float
        Shape that asks for most.
    leader_hours : float
        Engine hours that the leaders add.
    failure_high_after : float
        Upper bound of the failure chance by `to_h` if no leader fails.
    stop_after : int or None
        Stop at this failure among the leaders: with it the target is no longer shown.
    chance_stop : float or None
        Chance of that many failures, if the truth is as assumed.
    years : float or None
        Time for the last leader at the stated yearly use.
    """

    from_h: float
    to_h: float
    n_leaders: int | None
    worst_shape: float
    leader_hours: float
    failure_high_after: float
    stop_after: int | None
    chance_stop: float | None
    years: float | None


@value
class Plan(Value):
    """What would show the target reliability at the target age.

    `state` is ``"shown"`` (nothing is missing at any shape in the range, nor by the rule by which
    claims are quoted) or ``"planned"``. `rule_hours_each` are the hours that every running engine
    must add by that rule; None where it was not asked or no hours tried would do.
    `rule_new_engines` are new engines run to the target age, none failing, that make the claim
    by it; None where failures are allowed. `truth`
    says what was assumed for the chances. `worst` is the row of `needs` with the most missing.
    `curve_high` (s, m) is the upper bound at the target age for each shape of `needs` if every
    running engine adds `curve_added_h` (m,) hours and none fails. `steps` lead from the hours at
    which the fleet stands to the target age.
    """

    state: str
    sentence: str
    hours: float
    target: float
    confidence: float
    failures: int
    run_to_h: float
    n_running: int
    hours_per_year: float | None
    truth: str
    curve_added_h: Floats
    curve_high: Matrix
    needs: tuple[PlanNeed, ...]
    worst: PlanNeed
    options: tuple[PlanOption, ...]
    options_sentence: str
    success_runs: tuple[SuccessRun, ...]
    steps: tuple[PlanStep, ...]
    steps_sentence: str
    rule_hours_each: float | None = None
    rule_new_engines: int | None = None
