"""The bench: life against stress, the life in service, and the field beside it."""

from __future__ import annotations

from fleetstats.chapters.bench.values import Bench, FieldCheck
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
from fleetstats.document.layers import mark_at
from fleetstats.document.table_of import col, table_of


def compose_bench(b: Bench) -> Section:
    """Return the section on parts run to destruction."""
    blocks: list[Block] = [Statement(text=b.sentences[0], tone="answer")]
    for s in b.sentences[1:]:
        far = "extrapolation" in s
        blocks.append(Statement(text=s, tone="extrapolation" if far else "fact"))
    blocks.append(
        Explain(
            term="stress-life law",
            text="The higher the stress, the sooner a part breaks. The law says by how much; it is "
            "read above rating and carried down to service, which nothing on the bench tests.",
        )
    )
    if b.curve_stress is not None:
        blocks.append(_figure(b))
    blocks.append(_levels(b))
    if b.fields:
        blocks.append(_fields(b))
    blocks += [Statement(text=c.text, tone="caution") for c in b.cautions]
    return Section(key="bench", title="The bench and the field", blocks=tuple(blocks))


def _figure(b: Bench) -> Figure:
    layers = [*_curve(b), *_runs(b)]
    return Figure(
        key="bench",
        title="Life against stress",
        see="Marks are the runs; the line is the life by which the stated share has failed. Below "
        "the tested stresses it is carried on by the law alone.",
        alt="Bench lives against stress with the fitted line and band, and service stress marked.",
        panels=(
            Panel(
                x=Axis(label=b.stress_name, scale="linear" if b.relation == "arrhenius" else "log"),
                y=Axis(label="Life", unit=b.life_unit, scale="log"),
                layers=tuple(layers),
            ),
        ),
    )


def _curve(b: Bench) -> list[Layer]:
    """Return life against stress with its band, carried on past the stresses tested."""
    assert b.curve_stress is not None
    assert b.curve_life is not None
    assert b.curve_low is not None
    assert b.curve_high is not None
    assert b.runs_stress is not None
    tested = (float(b.runs_stress.min()), float(b.runs_stress.max()))
    inside = (b.curve_stress >= tested[0]) & (b.curve_stress <= tested[1])
    layers: list[Layer] = []
    for part, extrapolated, label in (
        (b.curve_stress <= tested[0] * (1 + 1e-9), True, ""),
        (inside, False, f"{100 * b.p:g} % have failed"),
        (b.curve_stress >= tested[1] * (1 - 1e-9), True, ""),
    ):
        if part.sum() < 2:
            continue
        x = b.curve_stress[part]
        edge = float(x[0]) * 0.999 if extrapolated else None
        layers += [
            Layer(
                kind="ribbon",
                role="band",
                label=f"{100 * b.level:g} % band" if label else "",
                x=x,
                low=b.curve_low[part],
                high=b.curve_high[part],
                extrapolated_from=edge,
            ),
            Layer(
                kind="line",
                role="estimate",
                label=label,
                x=x,
                y=b.curve_life[part],
                extrapolated_from=edge,
            ),
        ]
    return layers


def _runs(b: Bench) -> list[Layer]:
    """Return the runs, failed and not, and the stress of service."""
    assert b.runs_stress is not None
    assert b.runs_life is not None
    assert b.runs_failed is not None
    f = b.runs_failed
    layers = [
        Layer(kind="points", role="failure", label="failed", x=b.runs_stress[f], y=b.runs_life[f])
    ]
    if not f.all():
        layers.append(
            Layer(
                kind="points",
                role="censored",
                label="run-out or other mode",
                x=b.runs_stress[~f],
                y=b.runs_life[~f],
            )
        )
    if b.service_stress is not None:
        layers.append(mark_at("claim", "service", b.service_stress))
    return layers


def _levels(b: Bench) -> Table:
    return table_of(
        b.levels,
        key="bench-levels",
        title="Stresses run",
        columns=(
            col("stress", b.stress_name, lambda x: x.stress, "number"),
            col("runs", "Runs", lambda x: x.n, "count"),
            col("failed", "Failed", lambda x: x.n_failed, "count"),
            col("shortest", f"Shortest life, {b.life_unit}", lambda x: x.shortest, "count"),
            col("longest", f"Longest life, {b.life_unit}", lambda x: x.longest, "count"),
        ),
        see=(
            f"{b.n_run_out} of {b.n} runs were stopped unbroken; they count as lives longer than "
            "run."
            + (
                f" {b.n_other_mode} broke in another mode and count likewise."
                if b.n_other_mode
                else ""
            )
        ),
    )


def _build_name(f: FieldCheck) -> str:
    return f.build or "not stated"


def _fields(b: Bench) -> Table:
    return table_of(
        b.fields,
        key="bench-field",
        title="Bench prediction and field record",
        columns=(
            *((col("build", "Build", _build_name),) if b.builds else ()),
            col("per_h", f"{b.life_unit} per field hour", lambda f: f.per_h, "count"),
            col("expected", "Failures expected", lambda f: f.expected, "number"),
            col("expected_low", "low", lambda f: f.expected_low, "number"),
            col("expected_high", "high", lambda f: f.expected_high, "number"),
            col("seen", "Seen", lambda f: f.seen, "count"),
            col("so_few", "Chance of so few", lambda f: f.chance_so_few, "percent"),
            col("so_many", "Chance of so many", lambda f: f.chance_so_many, "percent"),
            col(
                "ratio_low",
                "Field life over bench, low",
                lambda f: f.ratio and f.ratio.low,
                "number",
            ),
            col("ratio_high", "high", lambda f: f.ratio and f.ratio.high, "number"),
            col(
                "joint",
                "Life, bench and field",
                lambda f: f.joint_life_h and f.joint_life_h.estimate,
                "hours",
            ),
            col("joint_low", "low", lambda f: f.joint_life_h and f.joint_life_h.low, "hours"),
            col("joint_high", "high", lambda f: f.joint_life_h and f.joint_life_h.high, "hours"),
        ),
        see=(
            "Rows are the low, stated and high number of damaging cycles in one hour. An empty "
            "cell: no such edge, or bench and field are not joined."
            + (
                ""
                if b.shift is None or not b.shift.draws
                else f" Limits of lives are moved so that they hold on {b.n} runs, by "
                f"{b.shift.draws:,} benches drawn from the fitted law."
            )
        ),
    )
