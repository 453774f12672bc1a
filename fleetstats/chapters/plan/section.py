"""Chapter: what it would take to show more."""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.chapters.plan.values import Plan
from fleetstats.document.caption_words import say_options
from fleetstats.document.document import (
    Axis,
    Block,
    Explain,
    Figure,
    Layer,
    Panel,
    Section,
    Statement,
    Table,
)
from fleetstats.document.references import point
from fleetstats.document.table_of import col, table_of
from fleetstats.vocabulary.wording import shape_words, stated

READ_FIRST = (
    "Hours that were flown and that nobody read cost no flying: see "
    + point("calls", otherwise="the verb 'calls'")
    + "."
)
"""What stands beside every plan: the cheapest evidence there is."""


def compose_plan(results: Results) -> Section | None:
    """Return the chapter; None when the study claims no interval."""
    plan = results.chapters.get("plan")
    if not isinstance(plan, Plan):
        return None
    blocks: list[Block] = [
        Statement(text=plan.sentence, tone="answer"),
        _figure(plan),
        _needs(plan),
        Statement(text=plan.options_sentence),
        _options(plan),
    ]
    if plan.steps:
        blocks += [Statement(text=plan.steps_sentence), _steps(plan)]
    blocks += [
        _success_runs(plan),
        Statement(text=f"Chances of a setback rest on {plan.truth}.", tone="assumption"),
        Statement(text=READ_FIRST),
        Explain(
            term="success run",
            text=(
                "So many engines, run from new to an age without failure, show a reliability there "
                "with a confidence: n = ln(1 - C) / ln R. Running longer counts for more engines, "
                "by how much depends on the shape."
            ),
        ),
        Explain(
            term="leaders",
            text=(
                "The oldest engines, run ahead of the fleet under closer watch. The fleet follows "
                "only when they have shown the next step, and stops by a rule fixed beforehand."
            ),
        ),
    ]
    return Section(key="plan", title="What it would take to show more", blocks=tuple(blocks))


def _figure(plan: Plan) -> Figure:
    shapes = [n.shape for n in plan.needs]
    layers = [
        Layer(
            kind="line",
            role=f"group-{1 + i % 6}",
            label=f"shape {shape_words(b)}",
            x=plan.curve_added_h,
            y=100.0 * row,
        )
        for i, (b, row) in enumerate(zip(shapes, plan.curve_high, strict=True))
    ]
    layers.append(
        Layer(
            kind="hline",
            role="target",
            label="accepted",
            y=plan.curve_added_h[:1] * 0.0 + 100.0 * (1.0 - plan.target),
        )
    )
    return Figure(
        key="plan-bound",
        title="What further running without failure would show",
        see=(
            f"Each line is the upper bound at {plan.hours:,.0f} h for one assumed shape, if all "
            f"{plan.n_running} running engines add so many hours and none fails."
        ),
        alt=(
            f"Upper bound of the failure chance by {plan.hours:,.0f} h falling as the engines now "
            "running add hours, one line for each assumed shape, with the accepted chance."
        ),
        panels=(
            Panel(
                x=Axis(label="hours added by each running engine", unit="h", low=0.0),
                y=Axis(label=f"upper bound of failure by {plan.hours:,.0f} h", unit="%", low=0.0),
                layers=tuple(layers),
            ),
        ),
    )


def _needs(plan: Plan) -> Table:
    without = "no failure" if plan.failures == 0 else f"at most {plan.failures} failures"
    return table_of(
        plan.needs,
        key="plan-needs",
        title=f"To show {stated(plan.target)} at {plan.hours:,.0f} h with {without}",
        columns=(
            col("shape", "Weibull shape", lambda n: n.shape, "number"),
            col("equivalents", "whole lives in hand", lambda n: n.equivalents, "count"),
            col("needed", "needed", lambda n: n.needed, "count"),
            col("new_to_target", "new engines to that age", lambda n: n.new_to_target, "count"),
            col(
                "new_to_run",
                f"new engines to {plan.run_to_h:,.0f} h",
                lambda n: n.new_to_run,
                "count",
            ),
            col(
                "hours_each", "or hours more, each running engine", lambda n: n.hours_each, "hours"
            ),
            col("fleet_hours", "in all", lambda n: n.fleet_hours, "hours"),
            col("years", "years", lambda n: n.years, "number"),
            col(
                "shown_on",
                "shown on",
                lambda n: None if n.shown_on is None else n.shown_on.isoformat(),
                "date",
            ),
            col("chance", "chance of that", lambda n: n.chance, "percent"),
            col("note", "note", lambda n: "least favourable" if n.least_favourable else ""),
        ),
        see="Nothing is missing where no further engines are named.",
    )


def _options(plan: Plan) -> Table:
    accepted = (1.0 - plan.target,)
    names = {"new": "new engines", "oldest": "oldest engines run on"}
    return table_of(
        plan.options,
        key="plan-options",
        title=f"New engines, or the oldest run on, to {plan.run_to_h:,.0f} h",
        columns=(
            col("shape", "Weibull shape", lambda o: o.shape, "number"),
            col("option", "which", lambda o: names[o.option]),
            col("engines", "engines", lambda o: o.n_engines, "count"),
            col("added_hours", "engine hours added", lambda o: o.added_hours, "hours"),
            col(
                "high_now",
                "upper bound now",
                lambda o: o.failure_high_now,
                "percent",
                edge="high",
                beside=accepted,
            ),
            col(
                "high_after",
                "after, if none fails",
                lambda o: o.failure_high_after,
                "percent",
                edge="high",
                beside=accepted,
            ),
            col(
                "shown_now_h",
                f"{stated(plan.target)} reach, now",
                lambda o: o.shown_to_now_h,
                "hours",
                beside=(plan.hours,),
            ),
            col(
                "shown_after_h",
                "after",
                lambda o: o.shown_to_after_h,
                "hours",
                beside=(plan.hours,),
            ),
            col("chance_none", "chance that none fails", lambda o: o.chance_none, "percent"),
            col(
                "chance_worse", "chance to end worse than now", lambda o: o.chance_worse, "percent"
            ),
            col(
                "chance_upset",
                "chance to lose the target",
                lambda o: o.chance_upset,
                "percent",
                help="Chance of more failures than leave the target shown; blank where it is not "
                "shown even with none.",
            ),
        ),
        see=say_options(_pairs(plan)),
    )


def _pairs(plan: Plan) -> list[tuple[float, float, float, float]]:
    by = {(o.shape, o.option): o for o in plan.options if o.n_engines}
    return [
        (new.failure_high_after, old.failure_high_after, new.chance_worse, old.chance_worse)
        for (shape, option), new in by.items()
        if option == "new" and (old := by.get((shape, "oldest"))) is not None
    ]


def _steps(plan: Plan) -> Table:
    return table_of(
        plan.steps,
        key="plan-steps",
        title="In steps, with leaders and a stop rule",
        columns=(
            col("from_h", "from", lambda s: s.from_h, "hours"),
            col("to_h", "to", lambda s: s.to_h, "hours"),
            col("leaders", "leaders needed", lambda s: s.n_leaders, "count"),
            col("leader_hours", "hours they add", lambda s: s.leader_hours, "hours"),
            col(
                "high_after",
                "upper bound there, if none fails",
                lambda s: s.failure_high_after,
                "percent",
                edge="high",
                beside=(1.0 - plan.target,),
            ),
            col("stop_after", "stop at failure number", lambda s: s.stop_after, "count"),
            col("chance_stop", "chance of a stop", lambda s: s.chance_stop, "percent"),
            col("years", "years", lambda s: s.years, "number"),
        ),
        see=(
            "A blank number of leaders: all running engines would not be enough. The bound is that "
            "of the least favourable shape."
        ),
    )


def _success_runs(plan: Plan) -> Table:
    return table_of(
        plan.success_runs,
        key="success-runs",
        title=f"From nothing: new engines run without failure that show "
        f"{stated(plan.target)} at {plan.hours:,.0f} h",
        columns=(
            col("run_to_h", "run to", lambda s: s.run_to_h, "hours"),
            col("shape", "Weibull shape", lambda s: s.shape, "number"),
            col("engines", "engines", lambda s: s.n_engines, "count"),
        ),
        see="A check on the plan that uses no record at all.",
        folded=True,
    )
