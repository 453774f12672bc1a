"""What it would take to show more: further hours, further engines, and the chance of a setback.

A plan is measured in equivalents (see `advice/equivalents.py`): whole lives to the target age that
the records are worth at an assumed shape. What is missing can come from engines now running, from
new ones, or from a few that lead. Every plan says how likely it is to go without a failure, because
gathering evidence may also upset the claim.
"""

from __future__ import annotations

from dataclasses import replace

from numpy.typing import ArrayLike

from fleetstats.advice.judge import Judgement, claim_asked, judge_claim
from fleetstats.advice.looks.at_look import settings_at_look
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.success_run import MOST_FAILURES, success_run
from fleetstats.bands.in_use import shapes_in_use
from fleetstats.chapters.plan.assumed_truth import assumed_truth
from fleetstats.chapters.plan.rule import engines_by_rule, hours_by_rule
from fleetstats.chapters.plan.steps import plan_steps
from fleetstats.chapters.plan.values import Plan, PlanNeed, PlanOption, PlanStep, SuccessRun
from fleetstats.chapters.plan.ways import Ask, bound_curve, build_need, build_option, running_of
from fleetstats.chapters.plan.words import (
    left_out_sentence,
    need_sentence,
    options_sentence,
    rule_sentence,
    steps_sentence,
)
from fleetstats.core.gate import FLAGS, HOURS, HOURS_ABOVE_0, PROBABILITY, counted, gate
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import FIT, LIVES, SETTINGS, fit_of_lives
from fleetstats.survival.weibull.fit_weibull import try_fit

__all__ = ["Plan", "PlanNeed", "PlanOption", "PlanStep", "SuccessRun", "plan_evidence"]

RUN_SHARES = (1.0, 1.25, 1.5)
"""Ages, as shares of the target age, to which the table of success runs takes engines."""

STEP_H = 100.0
"""Default height of a step in hours: two checks of 50 h (common practice, no source)."""


@gate(
    spells=LIVES,
    settings=SETTINGS,
    hours=HOURS_ABOVE_0.or_none,
    reliability=PROBABILITY.or_none,
    confidence=PROBABILITY.or_none,
    failures=counted(0, MOST_FAILURES),
    engines=counted(1),
    run_to_h=HOURS_ABOVE_0.or_none,
    true_failure=PROBABILITY.or_none,
    running=FLAGS.or_none,
    start_h=HOURS.or_none,
    step_h=HOURS_ABOVE_0,
    fit=FIT.or_none,
)
def plan_evidence(
    spells: Spells,
    settings: Settings,
    *,
    hours: float | None = None,
    reliability: float | None = None,
    confidence: float | None = None,
    failures: int = 0,
    engines: int = 30,
    run_to_h: float | None = None,
    true_failure: float | None = None,
    running: ArrayLike | None = None,
    start_h: float | None = None,
    step_h: float = STEP_H,
    fit: Fit | None = None,
) -> Plan:
    """Return what further running would show R(hours) at least `reliability`.

    Parameters
    ----------
    spells : Spells
        Lives at risk for the study's question.
    settings : Settings
        Confidence, shapes, yearly use, analysis date.
    hours : float, optional
        Target age; default the claimed interval.
    reliability : float, optional
        R to be shown there; default as in `advise_claim`.
    confidence : float, optional
        One-sided; default (1 + the study's two-sided level) / 2.
    failures : int
        Further failures that the plan allows.
    engines : int
        Engines in the comparison of new engines with the oldest run on.
    run_to_h : float, optional
        Age to which those run; default 1.25 times the target age.
    true_failure : float, optional
        True chance of failure by the target age, assumed for the chances of a setback; default the
        fit where there are 5 failures or more, else the median of what the records leave open.
    running : (n,) bool, optional
        Spells whose engine is still in service; see `running_of`.
    start_h, step_h : float, optional
        Hours at which the fleet stands and height of a step; default the claimed interval and
        100 h. Steps lead to `hours`, or to `run_to_h` where the fleet stands at `hours` already.
    fit : Fit, optional
        Weibull fit of the same spells; made here where it is not given and there is one.

    Returns
    -------
    Plan
        What is missing at each shape, and what would bring it, with the chance of a setback.

    Raises
    ------
    SettingError
        If a target is missing or impossible.

    References
    ----------
    Success run and its conversion by the shape: Nelson 1985; IEC 61649:2008.

    Examples
    --------
    >>> import fleetstats as fs
    >>> settings = fs.read_study("datasets/quiet-fleet").settings
    >>> lives = fs.Spells.of(0, [400, 650, 800, 900, 1100, 1200], [1, 0, 1, 0, 1, 0])
    >>> plan = fs.plan_evidence(lives, settings, reliability=0.9, hours=1200.0)
    >>> plan.state
    'planned'
    """
    hours, reliability = claim_asked(settings, hours, reliability)
    fit = fit_of_lives(fit, spells) or try_fit(spells)
    settings = settings_at_look(settings)
    ask = Ask(
        hours=hours,
        target=reliability,
        confidence=0.5 * (1 + settings.study.confidence) if confidence is None else confidence,
        failures=failures,
        run_to_h=1.25 * hours if run_to_h is None else run_to_h,
        truth=assumed_truth(spells, fit, hours=hours, true_failure=true_failure),
    )
    mask = running_of(spells, running)
    shapes = shapes_in_use(spells, fit, settings)
    needs, worst = _needs(spells, mask, settings, ask, shapes)
    options = _options(spells, mask, ask, shapes, engines)
    judged, rule, new = _by_rule(spells, mask, fit, settings, ask)
    steps = _steps(spells, mask, settings, ask, shapes, start_h, step_h)
    n_running = int(spells.weight[mask].sum())
    added_h, high = _curve(spells, mask, ask, shapes, worst)
    return Plan(
        state="shown" if _is_shown(worst, judged) else "planned",
        sentence=need_sentence(ask, worst, n_running, settings, judged, new)
        + rule_sentence(ask, worst, rule, settings, judged=judged)
        + left_out_sentence(spells.left_out),
        hours=hours,
        target=reliability,
        confidence=ask.confidence,
        failures=failures,
        run_to_h=ask.run_to_h,
        n_running=n_running,
        hours_per_year=settings.fleet.hours_per_year,
        truth=ask.truth.words,
        curve_added_h=added_h,
        curve_high=high,
        needs=needs,
        worst=worst,
        options=options,
        options_sentence=options_sentence(ask, options, worst.shape),
        success_runs=_success_runs(ask, shapes),
        steps=steps,
        steps_sentence=steps_sentence(steps),
        rule_hours_each=rule,
        rule_new_engines=new,
    )


def _needs(
    spells: Spells, running: Array, settings: Settings, ask: Ask, shapes: tuple[float, ...]
) -> tuple[tuple[PlanNeed, ...], PlanNeed]:
    """Return what each shape needs, and the one of them that is least favourable."""
    needs = [build_need(spells, running, settings, ask, b) for b in shapes]
    i = max(range(len(needs)), key=lambda j: needs[j].needed - needs[j].equivalents)
    needs[i] = replace(needs[i], least_favourable=True)
    return tuple(needs), needs[i]


def _by_rule(
    spells: Spells, running: Array, fit: Fit | None, settings: Settings, ask: Ask
) -> tuple[Judgement | None, float | None, int | None]:
    """Return judgement, hours each and new engines by the rule for claims.

    The first two where the claim itself is asked, at the study's own confidence.
    """
    new = engines_by_rule(spells, settings, ask)
    if ask.failures or ask.confidence != 0.5 * (1 + settings.study.confidence):
        return None, None, new
    judged = judge_claim(Quoter.of(spells, fit, settings), ask.hours, ask.target)
    hours = hours_by_rule(spells, running, fit, settings, hours=ask.hours, target=ask.target)
    return judged, hours, new


def _options(
    spells: Spells, running: Array, ask: Ask, shapes: tuple[float, ...], engines: int
) -> tuple[PlanOption, ...]:
    """Return new engines beside the oldest run on, for each shape."""
    return tuple(
        build_option(spells, running, ask, option, b, engines)
        for b in shapes
        for option in ("new", "oldest")
    )


def _curve(
    spells: Spells, running: Array, ask: Ask, shapes: tuple[float, ...], worst: PlanNeed
) -> tuple[Array, Array]:
    """Return the bound by hours added, to a little past those that the worst shape needs."""
    longest = max(0.5 * ask.hours, 1.2 * (worst.hours_each or 0.0))
    return bound_curve(spells, running, ask, shapes, longest)


def _steps(
    spells: Spells,
    running: Array,
    settings: Settings,
    ask: Ask,
    shapes: tuple[float, ...],
    start_h: float | None,
    step_h: float,
) -> tuple[PlanStep, ...]:
    """Return the steps from where the fleet stands: to the target age, or past it to the run's."""
    claimed = settings.study.claimed_interval_h
    if start_h is None:
        start_h = ask.hours if claimed is None else min(claimed, ask.hours)
    return plan_steps(
        spells,
        running,
        settings,
        shapes=shapes,
        start_h=start_h,
        to_h=ask.hours if ask.hours > start_h else ask.run_to_h,
        step_h=step_h,
        target=ask.target,
        confidence=ask.confidence,
        truth=ask.truth,
    )


def _success_runs(ask: Ask, shapes: tuple[float, ...]) -> tuple[SuccessRun, ...]:
    """Return what a plan without records would take, to each age and for each shape."""
    return tuple(
        SuccessRun(
            run_to_h=ask.hours * share,
            shape=b,
            n_engines=success_run(ask.target, ask.confidence, run_share=share, shape=b),
        )
        for share in RUN_SHARES
        for b in shapes
    )


def _is_shown(worst: PlanNeed, judged: Judgement | None) -> bool:
    """Return whether nothing is missing: by the judgement, where what is asked is the claim."""
    return worst.missing <= 0 if judged is None else judged.word == "supported"
