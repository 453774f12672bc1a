"""Chapter: what it would take to show more."""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.chapters.plan.compute import Plan
from fleetstats.document.caption_words import say_options
from fleetstats.document.document import (
    Axis,
    Block,
    Column,
    Explain,
    Figure,
    Layer,
    Panel,
    Section,
    Statement,
    Table,
)
from fleetstats.vocabulary.wording import shape_words, stated


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
    return Table(
        key="plan-needs",
        title=f"To show {stated(plan.target)} at {plan.hours:,.0f} h with {without}",
        columns=(
            Column(key="shape", title="Weibull shape", kind="number"),
            Column(key="equivalents", title="whole lives in hand", kind="count"),
            Column(key="needed", title="needed", kind="count"),
            Column(key="new_to_target", title="new engines to that age", kind="count"),
            Column(key="new_to_run", title=f"new engines to {plan.run_to_h:,.0f} h", kind="count"),
            Column(key="hours_each", title="or hours more, each running engine", kind="hours"),
            Column(key="fleet_hours", title="in all", kind="hours"),
            Column(key="years", title="years", kind="number"),
            Column(key="shown_on", title="shown on", kind="date"),
            Column(key="chance", title="chance of that", kind="percent"),
            Column(key="note", title="note"),
        ),
        rows=tuple(
            (
                n.shape,
                n.equivalents,
                n.needed,
                n.new_to_target,
                n.new_to_run,
                n.hours_each,
                n.fleet_hours,
                n.years,
                None if n.shown_on is None else n.shown_on.isoformat(),
                n.chance,
                "least favourable" if n.least_favourable else "",
            )
            for n in plan.needs
        ),
        see="Nothing is missing where no further engines are named.",
    )


def _options(plan: Plan) -> Table:
    accepted = (1.0 - plan.target,)
    names = {"new": "new engines", "oldest": "oldest engines run on"}
    return Table(
        key="plan-options",
        title=f"New engines, or the oldest run on, to {plan.run_to_h:,.0f} h",
        columns=(
            Column(key="shape", title="Weibull shape", kind="number"),
            Column(key="option", title="which"),
            Column(key="engines", title="engines", kind="count"),
            Column(key="added_hours", title="engine hours added", kind="hours"),
            Column(key="high_now", title="upper bound now", kind="percent", edge="high",
                   beside=accepted),
            Column(key="high_after", title="after, if none fails", kind="percent",
                   edge="high", beside=accepted),
            Column(key="shown_now_h", title=f"{stated(plan.target)} reach, now",
                   kind="hours", beside=(plan.hours,)),
            Column(key="shown_after_h", title="after", kind="hours", beside=(plan.hours,)),
            Column(key="chance_none", title="chance that none fails", kind="percent"),
            Column(key="chance_worse", title="chance to end worse than now", kind="percent"),
            Column(
                key="chance_upset",
                title="chance to lose the target",
                kind="percent",
                help="Chance of more failures than leave the target shown; blank where it is not "
                "shown even with none.",
            ),
        ),
        rows=tuple(
            (
                o.shape, names[o.option], o.n_engines, o.added_hours, o.failure_high_now,
                o.failure_high_after, o.shown_to_now_h, o.shown_to_after_h, o.chance_none,
                o.chance_worse, o.chance_upset,
            )
            for o in plan.options
        ),
        see=say_options(_pairs(plan)),
    )  # fmt: skip


def _pairs(plan: Plan) -> list[tuple[float, float, float, float]]:
    by = {(o.shape, o.option): o for o in plan.options if o.n_engines}
    return [
        (new.failure_high_after, old.failure_high_after, new.chance_worse, old.chance_worse)
        for (shape, option), new in by.items()
        if option == "new" and (old := by.get((shape, "oldest"))) is not None
    ]


def _steps(plan: Plan) -> Table:
    return Table(
        key="plan-steps",
        title="In steps, with leaders and a stop rule",
        columns=(
            Column(key="from_h", title="from", kind="hours"),
            Column(key="to_h", title="to", kind="hours"),
            Column(key="leaders", title="leaders needed", kind="count"),
            Column(key="leader_hours", title="hours they add", kind="hours"),
            Column(
                key="high_after",
                title="upper bound there, if none fails",
                kind="percent",
                edge="high",
                beside=(1.0 - plan.target,),
            ),
            Column(key="stop_after", title="stop at failure number", kind="count"),
            Column(key="chance_stop", title="chance of a stop", kind="percent"),
            Column(key="years", title="years", kind="number"),
        ),
        rows=tuple(
            (
                s.from_h,
                s.to_h,
                s.n_leaders,
                s.leader_hours,
                s.failure_high_after,
                s.stop_after,
                s.chance_stop,
                s.years,
            )
            for s in plan.steps
        ),
        see=(
            "A blank number of leaders: all running engines would not be enough. The bound is that "
            "of the least favourable shape."
        ),
    )


def _success_runs(plan: Plan) -> Table:
    return Table(
        key="success-runs",
        title=(
            f"From nothing: new engines run without failure that show "
            f"{stated(plan.target)} at {plan.hours:,.0f} h"
        ),
        columns=(
            Column(key="run_to_h", title="run to", kind="hours"),
            Column(key="shape", title="Weibull shape", kind="number"),
            Column(key="engines", title="engines", kind="count"),
        ),
        rows=tuple((s.run_to_h, s.shape, s.n_engines) for s in plan.success_runs),
        see="A check on the plan that uses no record at all.",
        folded=True,
    )
