"""What it would take to show more: further hours, further engines, and the chance of a setback.

A plan is measured in equivalents (see `advice/equivalents.py`): whole lives to the target age that
the records are worth at an assumed shape. What is missing can come from engines now running, from
new ones, or from a few that lead. Every plan says how likely it is to go without a failure, because
gathering evidence may also upset the claim.
"""

from __future__ import annotations

import math
from dataclasses import replace

from numpy.typing import ArrayLike

from fleetstats.advice.judge import Judgement, claim_asked, judge_claim
from fleetstats.advice.quoted import Quoter, is_few, shapes_in_use
from fleetstats.advice.success_run import success_run
from fleetstats.advice.tipping import try_fit
from fleetstats.chapters.plan.assumed_truth import assumed_truth
from fleetstats.chapters.plan.rule import hours_by_rule
from fleetstats.chapters.plan.steps import plan_steps
from fleetstats.chapters.plan.values import Plan, PlanNeed, PlanOption, PlanStep, SuccessRun
from fleetstats.chapters.plan.ways import Ask, bound_curve, build_need, build_option, running_of
from fleetstats.chapters.plan.words import (
    need_sentence,
    options_sentence,
    rule_sentence,
    steps_sentence,
)
from fleetstats.core.errors import SettingError
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit

__all__ = ["Plan", "PlanNeed", "PlanOption", "PlanStep", "SuccessRun", "plan_evidence"]

RUN_SHARES = (1.0, 1.25, 1.5)
"""Ages, as shares of the target age, to which the table of success runs takes engines."""

STEP_H = 100.0
"""Default height of a step in hours: two checks of 50 h (common practice, no source)."""


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
    fit = try_fit(spells) if fit is None else fit
    run_to_h = 1.25 * hours if run_to_h is None else run_to_h
    if not 0 < run_to_h < math.inf or engines < 1 or failures < 0 or not step_h > 0:
        raise SettingError(
            f"Plan of {engines} engines to {run_to_h:g} h with {failures} failures.",
            "Give at least 1 engine, hours above 0 and 0 failures or more.",
        )
    ask = Ask(
        hours=hours,
        target=reliability,
        confidence=0.5 * (1 + settings.study.confidence) if confidence is None else confidence,
        failures=failures,
        run_to_h=run_to_h,
        truth=assumed_truth(spells, fit, hours=hours, true_failure=true_failure),
    )
    mask = running_of(spells, running)
    shapes = shapes_in_use(spells, fit, settings)
    needs = [build_need(spells, mask, settings, ask, b) for b in shapes]
    i = max(range(len(needs)), key=lambda j: needs[j].needed - needs[j].equivalents)
    needs[i] = replace(needs[i], least_favourable=True)
    options = tuple(
        build_option(spells, mask, ask, o, b, engines) for b in shapes for o in ("new", "oldest")
    )
    rule = None
    judged = None
    if failures == 0 and ask.confidence == 0.5 * (1 + settings.study.confidence):
        judged = judge_claim(Quoter.of(spells, fit, settings), hours, reliability)
        rule = hours_by_rule(spells, mask, fit, settings, hours=hours, target=reliability)
    claimed = settings.study.claimed_interval_h
    if start_h is None:
        start_h = hours if claimed is None else min(claimed, hours)
    top = hours if hours > start_h else run_to_h
    steps = plan_steps(
        spells,
        mask,
        settings,
        shapes=shapes,
        start_h=start_h,
        to_h=top,
        step_h=step_h,
        target=ask.target,
        confidence=ask.confidence,
        truth=ask.truth,
    )
    n_running = int(spells.weight[mask].sum())
    longest = max(0.5 * hours, 1.2 * (needs[i].hours_each or 0.0))
    curve = bound_curve(spells, mask, ask, shapes, longest)
    return Plan(
        state="shown" if _is_shown(needs[i], judged) else "planned",
        sentence=need_sentence(ask, needs[i], n_running, settings, judged)
        + rule_sentence(ask, needs[i], rule, settings, few=is_few(spells, fit), judged=judged),
        hours=hours,
        target=reliability,
        confidence=ask.confidence,
        failures=failures,
        run_to_h=run_to_h,
        n_running=n_running,
        hours_per_year=settings.fleet.hours_per_year,
        truth=ask.truth.words,
        curve_added_h=curve[0],
        curve_high=curve[1],
        needs=tuple(needs),
        worst=needs[i],
        options=options,
        options_sentence=options_sentence(ask, options, needs[i].shape),
        success_runs=tuple(
            SuccessRun(
                run_to_h=hours * s,
                shape=b,
                n_engines=success_run(reliability, ask.confidence, run_share=s, shape=b),
            )
            for s in RUN_SHARES
            for b in shapes
        ),
        steps=steps,
        steps_sentence=steps_sentence(steps),
        rule_hours_each=rule,
    )


def _is_shown(worst: PlanNeed, judged: Judgement | None) -> bool:
    """Return whether nothing is missing: by the judgement, where what is asked is the claim."""
    return worst.missing <= 0 if judged is None else judged.word == "supported"
