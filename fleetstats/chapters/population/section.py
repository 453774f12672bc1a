"""Every engine made or registered: in, out and why, fate unknown; then the build standards."""

from __future__ import annotations

import numpy as np

from fleetstats.advice.results import Results
from fleetstats.document.blocks import say
from fleetstats.document.document import Axis, Block, Figure, Layer, Panel, Section, Table
from fleetstats.document.glossary import explain
from fleetstats.document.population_words import state_population
from fleetstats.document.table_of import col, table_of
from fleetstats.study.settings import LEVELS
from fleetstats.vocabulary.findings import meaning_of
from fleetstats.vocabulary.wording import count, listed, lives_of


def compose_population(results: Results) -> Section:
    """Return the funnel from rows to lives used, per source, with what is missing."""
    f = results.built.funnel
    t = f.total
    blocks: list[Block] = []
    text = (
        f"{t.rows_read:,} rows were read; {t.rows_used:,} are used and {t.rows_set_aside:,} set "
        f"aside. They name {count(t.engines, 'engine')} and make "
        f"{count(t.lives, 'life', 'lives')}; {lives_of(t.lives_used, t.engines_used)} enter the "
        "analysis."
    )
    blocks.append(say(text))
    blocks.append(explain("spell"))
    blocks += state_population(f, results.built.asserted)
    blocks.append(_funnel_figure(results))
    blocks.append(_funnel_table(results))
    losses = _loss_table(results)
    if losses.rows:
        blocks.append(losses)
    return Section(key="population", title="Population", blocks=tuple(blocks))


def _funnel_figure(results: Results) -> Figure:
    f = results.built.funnel
    t = f.total
    steps = [("engines built", float(f.n_built))] if f.n_built else []
    steps += [
        ("in the records", float(t.engines)),
        ("engines used", float(t.engines_used)),
        ("lives used", float(t.lives_used)),
        ("failures counted" if results.spells.left_out else "failures", results.spells.n_failed),
    ]
    n = len(steps)
    layer = Layer(
        kind="spans",
        role="running",
        x=np.zeros(n),
        x2=np.array([v for _, v in steps]),
        y=np.arange(n, dtype=float),
        names=tuple(name for name, _ in steps),
    )
    names = tuple(f"{name}: {v:,.0f}" for name, v in steps)
    return Figure(
        key="funnel",
        title="From engines built to failures seen",
        see="Each bar is what is left after the step above it.",
        alt="Horizontal bars: " + listed(list(names)) + ".",
        panels=(
            Panel(
                x=Axis(label="Count", low=0.0),
                y=Axis(label="", scale="category", categories=names),
                layers=(layer,),
            ),
        ),
        height=1.9,
    )


def _funnel_table(results: Results) -> Table:
    f = results.built.funnel
    return table_of(
        (*f.sources, f.total) if len(f.sources) > 1 else (f.total,),
        key="funnel",
        title="Rows, engines and lives by source",
        columns=(
            col("source", "Source", lambda x: "all sources" if x is f.total else x.source),
            col("rows_read", "Rows read", lambda x: x.rows_read, "count"),
            col("rows_set_aside", "Rows set aside", lambda x: x.rows_set_aside, "count"),
            col("rows_used", "Rows used", lambda x: x.rows_used, "count"),
            col("engines", "Engines", lambda x: x.engines, "count"),
            col("lives", "Lives", lambda x: x.lives, "count"),
            col("lives_excluded", "Lives excluded", lambda x: x.lives_excluded, "count"),
            col("lives_used", "Lives used", lambda x: x.lives_used, "count"),
        ),
        see="Rows read are rows used plus rows set aside, in each line. An engine that two "
        "sources report counts once in the last line.",
    )


def _loss_table(results: Results) -> Table:
    rows = [
        (line.source, stage, reason, n)
        for line in results.built.funnel.sources
        for stage, losses in (
            ("row set aside", line.row_losses),
            ("life excluded", line.life_losses),
        )
        for reason, n in sorted(losses.items())
    ]
    return table_of(
        rows,
        key="losses",
        title="What was lost on the way, and why",
        columns=(
            col("source", "Source", lambda x: x[0]),
            col("stage", "Stage", lambda x: x[1]),
            col("reason", "Reason", lambda x: x[2]),
            col("meaning", "In words", lambda x: meaning_of(x[2])),
            col("n", "Count", lambda x: x[3], "count"),
        ),
    )


def compose_configuration(results: Results) -> Section:
    """Return build standards, engine boundary and what was left outside it."""
    q = results.settings.question
    s = results.spells
    blocks: list[Block] = [
        say(
            f"The engine ends where the failure level says: {LEVELS[q.level]}. Accessories, "
            "ignition, fuel, exhaust and propeller lie outside it."
            if q.level != "accessory"
            else f"The level in question is {LEVELS[q.level]}."
        )
    ]
    if q.causes:
        blocks.append(say(f"Causes in question: {listed(list(q.causes))}."))
    names = sorted(set(s.build.tolist()))
    if names == [""]:
        blocks.append(
            say(
                "The records name no build standard. If the engines differ in build, one curve "
                "describes none of them; a column with the standard would show it.",
                "missing",
            )
        )
        return Section(key="configuration", title="Configuration", blocks=tuple(blocks))
    blocks.append(
        table_of(
            [(name, s.of_group("build", name)) for name in names],
            key="builds",
            title="Build standards",
            columns=(
                col("build", "Build standard", lambda x: x[0] or "not said"),
                col("engines", "Engines", lambda x: round(x[1].n_engines), "count"),
                col("lives", "Lives", lambda x: float(x[1].weight.sum()), "count"),
                col("failures", "Failures", lambda x: x[1].n_failed, "count"),
                col("exposure_h", "Engine hours", lambda x: round(x[1].exposure_h), "hours"),
                col("oldest_h", "Oldest hours", lambda x: x[1].oldest_h, "hours"),
            ),
            see="A failure count says little without the hours beside it.",
        )
    )
    return Section(key="configuration", title="Configuration", blocks=tuple(blocks))
