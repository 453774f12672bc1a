"""Reliability growth over build standards."""

from __future__ import annotations

import numpy as np

from fleetstats.document.document import (
    Axis,
    Explain,
    Figure,
    Layer,
    Panel,
    Section,
    Statement,
    Table,
)
from fleetstats.document.table_of import col, table_of
from fleetstats.survival.groups.growth import Growth


def compose_growth(growth: Growth) -> Section:
    """Return the section on growth from one build standard to the next."""
    tone = {"too-few": "missing", "not-shown": "fact"}.get(growth.direction, "answer")
    return Section(
        key="growth",
        title="Do later builds do better?",
        blocks=(
            Statement(text=growth.sentence, tone=tone),
            Explain(
                term="failures expected",
                text="What a build's own hours, age by age, would have brought at the pace of the "
                "whole fleet. A young build is not praised for being young.",
            ),
            _figure(growth),
            _table(growth),
        ),
    )


def _figure(growth: Growth) -> Figure:
    names = tuple(x.build for x in growth.lines)
    place = np.arange(len(names), dtype=float)
    return Figure(
        key="growth",
        title="Failures seen over failures expected, by build",
        see="A bar that lies wholly below 1 means fewer failures than this build's hours, age by "
        "age, would bring at the pace of the whole fleet.",
        alt="Points with error bars, one per build standard in calendar order: "
        + "; ".join(f"{x.build} {x.ratio:.2f}" for x in growth.lines)
        + ".",
        panels=(
            Panel(
                x=Axis(label="Build standard, first to last", scale="category", categories=names),
                y=Axis(label="Seen over expected", low=0.0),
                layers=(
                    Layer(kind="hline", role="reference", label="as the fleet", y=np.array([1.0])),
                    Layer(
                        kind="points",
                        role="estimate",
                        label=f"with {100 * growth.level:g} % limits",
                        x=place,
                        y=np.array([x.ratio for x in growth.lines]),
                        low=np.array([x.low for x in growth.lines]),
                        high=np.array([x.high for x in growth.lines]),
                        names=names,
                    ),
                ),
            ),
        ),
    )


def _table(growth: Growth) -> Table:
    return table_of(
        growth.lines,
        key="growth-builds",
        title="Build standards in the order in which they came",
        columns=(
            col("build", "Build", lambda x: x.build),
            col("lives", "Lives", lambda x: x.n, "count"),
            col("hours", "Hours", lambda x: x.exposure_h, "hours"),
            col("failures", "Failures", lambda x: x.n_failed, "number"),
            col("expected", "Expected", lambda x: x.expected, "number"),
            col("ratio", "Seen over expected", lambda x: x.ratio, "number", beside=(1.0,)),
            col("low", f"Low ({100 * growth.level:g} %)", lambda x: x.low, "number", beside=(1.0,)),
            col(
                "high",
                f"High ({100 * growth.level:g} %)",
                lambda x: x.high,
                "number",
                beside=(1.0,),
            ),
            col("rate", "Per 1,000 h", lambda x: x.rate_per_1000_h, "number"),
        ),
        see=(
            "The rate per 1,000 h ignores age and favours young builds; the ratio does not. "
            f"Expected failures are {growth.basis}."
        ),
    )
