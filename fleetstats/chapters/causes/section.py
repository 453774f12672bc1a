"""Causes: what each ended, what overhaul renews, what a redesign would buy."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fleetstats.advice.key_figures import AdviceFigure
from fleetstats.chapters.causes.values import Causes
from fleetstats.core.units import text_hours
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
from fleetstats.document.layers import evidence_ends
from fleetstats.document.table_of import ColumnOf, Item, col, table_of

_GROUPS = 6


def compose_causes(causes: Causes) -> Section:
    """Return the section on failures by cause."""
    blocks: list[Block] = [
        Statement(text=causes.sentence, tone="answer"),
        *(Statement(text=_caution(c.text, c.value), tone="caution") for c in causes.cautions),
        Explain(
            term="cumulative incidence",
            text="The share of lives that one cause has ended by an age, other causes being what "
            "they are. The shares of all causes add up to the share that failed.",
        ),
        _figure(causes),
        _lines(causes),
    ]
    if any(x.life_all is not None for x in causes.lines):
        blocks.append(_unknown(causes))
    if causes.renewed:
        blocks += [
            Statement(
                text="The main overhaul band counts the failures that an overhaul mends and all of "
                "unknown cause; here it stands beside the others.",
            ),
            _renewed(causes),
        ]
    if causes.without:
        blocks += [
            *(Statement(text=w.sentence) for w in causes.without),
            _without(causes),
        ]
    return Section(key="causes", title="What fails, and what overhaul mends", blocks=tuple(blocks))


def _caution(text: str, value: str) -> str:
    return f"{text} ({value}.)" if value else text


def _figure(causes: Causes) -> Figure:
    layers: list[Layer] = []
    table = causes.incidence
    shown = [x.cause for x in causes.lines][:_GROUPS]
    end = max(table.oldest_h, float(table.hours[-1]))
    x = np.concatenate([[0.0], table.hours, [end]])
    for i, cause in enumerate(shown):
        row = table.incidence[table.labels.index(cause)]
        layers.append(
            Layer(
                kind="step",
                role=f"group-{i + 1}",
                label=cause,
                x=x,
                y=np.concatenate([[0.0], row, row[-1:]]),
                extrapolated_from=causes.supported_h,
            )
        )
    if causes.supported_h > 0.0:
        layers.append(evidence_ends(causes.supported_h))
    first = causes.lines[0]
    return Figure(
        key="incidence",
        title="Share of lives ended, by cause",
        see=f"By {text_hours(first.share_h)} the cause '{first.cause}' had ended "
        f"{100 * first.share:.2g} % of lives.",
        alt="Step curves of the share of lives ended by each cause: "
        + "; ".join(f"{x.cause} {100 * x.share:.2g} %" for x in causes.lines[:_GROUPS])
        + ".",
        panels=(
            Panel(
                x=Axis(label="Hours", unit="h", low=0.0),
                y=Axis(label="Share of lives ended", unit="probability", low=0.0),
                layers=tuple(layers),
            ),
        ),
    )


def _lines(causes: Causes) -> Table:
    b = causes.lines[0].life
    at = causes.lines[0].share_h
    level = f"{100 * b.level:g} %"
    return table_of(
        causes.lines,
        key="causes",
        title="Each cause",
        columns=(
            col("cause", "Cause", lambda x: x.cause),
            col("failures", "Failures", lambda x: x.n_failed, "number"),
            col("asked", "In question", lambda x: "yes" if x.in_question else "no"),
            col("renewed", "Overhaul renews it", lambda x: "yes" if x.renewed else "no"),
            col("share", f"Ended by {at:,.0f} h", lambda x: x.share, "percent"),
            col("share_error", "Standard error", lambda x: x.share_error, "percent"),
            col("shape", "Shape", lambda x: x.shape and x.shape.estimate, "number"),
            col("shape_low", f"Shape low ({level})", lambda x: x.shape and x.shape.low, "number"),
            col(
                "shape_high",
                f"Shape high ({level})",
                lambda x: x.shape and x.shape.high,
                "number",
            ),
            col("life", b.name, lambda x: x.life.estimate, "hours"),
            col("life_low", f"{b.name} low ({level})", lambda x: x.life.low, "hours"),
            col("life_high", f"{b.name} high ({level})", lambda x: x.life.high, "hours"),
        ),
        see=(
            "Each cause's life is the one that would be seen if it were the only cause; no shape "
            "is given below five failures."
        ),
    )


def _unknown(causes: Causes) -> Table:
    b = causes.lines[0].life
    level = f"{100 * b.level:g} %"
    cases = (("none", "none counted"), ("shared", "shared out"), ("all", "all counted"))
    return Table(
        key="causes-unknown",
        title="Each cause's life, with failures of unknown cause",
        columns=(
            Column(key="cause", title="Cause"),
            *(
                Column(key=f"{key}{end}", title=f"{b.name}{said}, {name}", kind="hours")
                for key, name in cases
                for end, said in (("", ""), ("_low", f" low ({level})"))
            ),
        ),
        rows=tuple(
            (
                x.cause,
                *(
                    v
                    for i in (x.life, x.life_shared, x.life_all)
                    for v in ((None, None) if i is None else (i.estimate, i.low))
                ),
            )
            for x in causes.lines
            if x.life_all is not None
        ),
        see="Failures whose cause nobody wrote down counted as this cause: none, a share as the "
        "known ones fell, or all. The truth lies between the first and the last.",
    )


def _band(of: Callable[[Item], AdviceFigure | None]) -> tuple[ColumnOf[Item], ...]:
    return (
        col("plan_from", "Plan from", lambda x: (f := of(x)) and f.plan_from_h, "hours"),
        col("expect_at", "Expect at", lambda x: (f := of(x)) and f.expect_at_h, "hours"),
        col("not_beyond", "Not beyond", lambda x: (f := of(x)) and f.not_beyond_h, "hours"),
    )


def _renewed(causes: Causes) -> Table:
    return table_of(
        [
            ("all failures in question, whatever the cause", causes.base),
            *((r.reading, r.figure) for r in causes.renewed),
        ],
        key="causes-renewed",
        title="Overhaul band from the causes that overhaul renews",
        columns=(
            col("case", "Failures of unknown cause", lambda x: x[0]),
            col("failures", "Failures counted", lambda x: x[1] and x[1].n_failed, "number"),
            *_band(lambda x: x[1]),
            col(
                "verdict",
                "Verdict on the claim, from these alone",
                lambda x: "" if x[1] is None else x[1].verdict.replace("-", " "),
            ),
        ),
        see="Where the rows differ, the advice hangs on causes that nobody wrote down or that an "
        "overhaul does not touch. A band from fewer failures is also less sure.",
    )


def _without(causes: Causes) -> Table:
    name = causes.lines[0].life.name
    return table_of(
        causes.without,
        key="causes-without",
        title="If one cause were designed out",
        columns=(
            col("cause", "Without", lambda w: w.cause),
            col("life", name, lambda w: w.figure.life_h, "hours"),
            col("life_low", f"{name} low", lambda w: w.figure.life_low_h, "hours"),
            *_band(lambda w: w.figure),
            col("change", "Start of the band moves by", lambda w: w.change_h, "hours"),
        ),
        see="Only the life of engines without that cause would show it; the figures assume that "
        "causes strike independently. A lower edge can fall although life rises, because fewer "
        "failures tell less.",
        folded=True,
    )
