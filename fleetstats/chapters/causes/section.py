"""Causes: what each ended, what overhaul renews, what a redesign would buy."""

from __future__ import annotations

import numpy as np

from fleetstats.advice.key_figures import AdviceFigure
from fleetstats.chapters.causes.compute import Causes, RenewedAdvice
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
    horizon = causes.lines[0].share_h
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
                extrapolated_from=horizon,
            )
        )
    layers.append(
        Layer(
            kind="vline",
            role="horizon",
            label=f"evidence ends {horizon:,.0f} h",
            x=np.array([horizon]),
        )
    )
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
    return Table(
        key="causes",
        title="Each cause",
        columns=(
            Column(key="cause", title="Cause"),
            Column(key="failures", title="Failures", kind="number"),
            Column(key="asked", title="In question"),
            Column(key="renewed", title="Overhaul renews it"),
            Column(key="share", title=f"Ended by {at:,.0f} h", kind="percent"),
            Column(key="share_error", title="Standard error", kind="percent"),
            Column(key="shape", title="Shape", kind="number"),
            Column(key="shape_low", title=f"Shape low ({level})", kind="number"),
            Column(key="shape_high", title=f"Shape high ({level})", kind="number"),
            Column(key="life", title=b.name, kind="hours"),
            Column(key="life_low", title=f"{b.name} low ({level})", kind="hours"),
            Column(key="life_high", title=f"{b.name} high ({level})", kind="hours"),
        ),
        rows=tuple(
            (
                x.cause,
                x.n_failed,
                "yes" if x.in_question else "no",
                "yes" if x.renewed else "no",
                x.share,
                x.share_error,
                None if x.shape is None else x.shape.estimate,
                None if x.shape is None else x.shape.low,
                None if x.shape is None else x.shape.high,
                x.life.estimate,
                x.life.low,
                x.life.high,
            )
            for x in causes.lines
        ),
        see="Each cause's life is the one that would be seen if it were the only cause; no shape "
        "is given below five failures.",
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


def _band(figure: AdviceFigure | None) -> tuple[float | None, float | None, float | None]:
    if figure is None:
        return None, None, None
    return figure.plan_from_h, figure.expect_at_h, figure.not_beyond_h


_BAND = (
    Column(key="plan_from", title="Plan from", kind="hours"),
    Column(key="expect_at", title="Expect at", kind="hours"),
    Column(key="not_beyond", title="Not beyond", kind="hours"),
)


def _renewed(causes: Causes) -> Table:
    def row(r: RenewedAdvice) -> tuple[str | float | None, ...]:
        n = None if r.figure is None else r.figure.n_failed
        verdict = "" if r.figure is None else r.figure.verdict.replace("-", " ")
        return (r.reading, n, *_band(r.figure), verdict)

    base = causes.base
    return Table(
        key="causes-renewed",
        title="Overhaul band from the causes that overhaul renews",
        columns=(
            Column(key="case", title="Failures of unknown cause"),
            Column(key="failures", title="Failures counted", kind="number"),
            *_BAND,
            Column(key="verdict", title="Verdict on the claim, from these alone"),
        ),
        rows=(
            (
                "all failures in question, whatever the cause",
                base.n_failed,
                *_band(base),
                base.verdict.replace("-", " "),
            ),
            *(row(r) for r in causes.renewed),
        ),
        see="Where the rows differ, the advice hangs on causes that nobody wrote down or that an "
        "overhaul does not touch. A band from fewer failures is also less sure.",
    )


def _without(causes: Causes) -> Table:
    name = causes.lines[0].life.name
    return Table(
        key="causes-without",
        title="If one cause were designed out",
        columns=(
            Column(key="cause", title="Without"),
            Column(key="life", title=name, kind="hours"),
            Column(key="life_low", title=f"{name} low", kind="hours"),
            *_BAND,
            Column(key="change", title="Start of the band moves by", kind="hours"),
        ),
        rows=tuple(
            (
                w.cause,
                w.figure.life_h,
                w.figure.life_low_h,
                *_band(w.figure),
                w.change_h,
            )
            for w in causes.without
        ),
        see="Only the life of engines without that cause would show it; the figures assume that "
        "causes strike independently. A lower edge can fall although life rises, because fewer "
        "failures tell less.",
        folded=True,
    )
