"""The fleet's forecast: counts to come, the season, spares, reserve, and the look back."""

from __future__ import annotations

import numpy as np

from fleetstats.chapters.ahead.backtest import Backtest
from fleetstats.chapters.ahead.forecast_values import (
    CountForecast,
    Forecast,
    Reserve,
    Season,
    Spares,
)
from fleetstats.core.units import text_decided, text_percent
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
from fleetstats.document.table_of import col, table_of

BARS = 1e-3
"""Chance below which a count gets no bar."""


def compose_forecast(f: Forecast, back: Backtest | None = None) -> Section:
    """Return the section on the fleet's forecast, with the back-test where there is one."""
    blocks: list[Block] = [Statement(text=f.sentences[0], tone="answer")]
    for s in f.sentences[1:-1]:
        far = "extrapolation" in s
        blocks.append(Statement(text=s, tone="extrapolation" if far else "fact"))
    blocks.append(Statement(text=f.sentences[-1], tone="assumption"))
    blocks.append(
        Explain(
            term="prediction interval",
            text="A range for a count that is still to come. It holds two doubts: that the life "
            "law is known only roughly, and that chance would play even if it were known.",
        )
    )
    blocks += [_figure(f), _counts(f)]
    if f.season is not None:
        blocks.append(_season(f.season, f.level))
    if f.spares is not None:
        blocks.append(_spares(f.spares))
    if f.reserve is not None:
        blocks.append(_reserve(f.reserve))
    if f.plug_in is not None:
        low, high = f.plug_in
        blocks.append(
            Statement(
                text=f"With the fitted life law taken as if it were known, the range would be "
                f"{low} to {high}; such ranges hold less often than they say, and it is not used."
            )
        )
    if back is not None:
        blocks += [
            Statement(text=s, tone="answer" if i == 0 else "fact")
            for i, s in enumerate(back.sentences)
        ]
    blocks += [Statement(text=c.text, tone="caution") for c in f.cautions]
    return Section(key="forecast", title="What is coming for the fleet", blocks=tuple(blocks))


def _season_panel(f: Forecast, s: Season) -> Panel:
    x = np.concatenate([[0.0], s.month])
    return Panel(
        x=Axis(label="Months from the analysis date", low=0.0),
        y=Axis(label="Failures so far", low=0.0),
        layers=(
            Layer(
                kind="ribbon",
                role="band",
                label=f"{100 * f.level:g} % prediction interval",
                x=x,
                low=np.concatenate([[0.0], s.low]),
                high=np.concatenate([[0.0], s.high]),
            ),
            Layer(
                kind="line",
                role="estimate",
                label="expected",
                x=x,
                y=np.concatenate([[0.0], s.expected]),
            ),
            Layer(
                kind="step",
                role="target",
                label="alert level",
                x=s.month,
                y=s.alert.astype(float),
            ),
        ),
        title="Count to update month by month",
    )


def _figure(f: Forecast) -> Figure:
    panels = [] if f.season is None else [_season_panel(f, f.season)]
    p = f.failures.law.probability
    last = int(np.flatnonzero(p >= BARS)[-1]) if np.any(p >= BARS) else 0
    k = np.arange(last + 1, dtype=float)
    panels.append(
        Panel(
            x=Axis(label="Failures in all", low=-0.5),
            y=Axis(label="Chance", unit="%", low=0.0),
            layers=(
                Layer(
                    kind="bars",
                    role="estimate",
                    label="chance of each count",
                    x=k - 0.4,
                    x2=k + 0.4,
                    high=100.0 * p[: last + 1],
                ),
            ),
            title="Chance of each count",
        )
    )
    return Figure(
        key="forecast",
        title=f"Failures in {f.span}",
        see="Put each new failure on the left picture: within the band is as expected, at or above "
        "the alert line is the time to ask what has changed."
        if f.season is not None
        else "The bars add up to 100 %; the prediction interval leaves out both thin ends.",
        alt="Expected failures month by month with the prediction interval and the alert level, "
        "and bars of the chance of each total count.",
        panels=tuple(panels),
        columns=len(panels),
    )


def _counts(f: Forecast) -> Table:
    kinds: list[CountForecast | None] = [f.failures, f.overhauls, f.findings, f.removals]
    return table_of(
        [c for c in kinds if c is not None],
        key="forecast-counts",
        title=f"Counts in {f.span}",
        columns=(
            col("what", "What", lambda c: c.what),
            col("expected", "Expected", lambda c: c.expected, "number"),
            col("low", "Low", lambda c: c.low, "count"),
            col("high", "High", lambda c: c.high, "count"),
            col("none", "Chance of none", lambda c: c.none, "percent"),
        ),
        see=f"Low to high holds the outcome with a chance of at least {text_percent(f.level)}.",
    )


def _season(s: Season, level: float) -> Table:
    return table_of(
        range(len(s.month)),
        key="forecast-season",
        title="Month by month",
        columns=(
            col("month", "Month", lambda i: float(s.month[i]), "number"),
            col("expected", "Expected so far", lambda i: float(s.expected[i]), "number"),
            col("low", "Low", lambda i: int(s.low[i]), "count"),
            col("high", "High", lambda i: int(s.high[i]), "count"),
            col("alert", "Alert at", lambda i: int(s.alert[i]), "count"),
        ),
        see="Looking every month, the alert level is reached in "
        f"{text_decided(s.false_alarm_held, s.false_alarm)} of seasons in which nothing has "
        "changed (asked: at "
        f"most {text_percent(s.false_alarm)}); low and high at {text_percent(level)}.",
        folded=True,
    )


def _spares(s: Spares) -> Table:
    return table_of(
        zip(s.levels, s.needed, strict=True),
        key="forecast-spares",
        title="Spare engines",
        columns=(
            col("level", "Chance that they suffice", lambda x: x[0], "percent"),
            col("needed", "Spares", lambda x: x[1], "count"),
        ),
        see=f"A removed engine is taken to be back after {s.repair_months:g} months; overhauls "
        "that are due are taken to be spread over the forecast.",
    )


def _reserve(r: Reserve) -> Table:
    rows: list[tuple[str, float]] = [("expected over the forecast", r.mean_per_h)]
    rows += [
        (f"suffices with chance {text_percent(p)}", x)
        for p, x in zip(r.levels, r.per_h, strict=True)
    ]
    if r.long_run_per_h is not None:
        a, b, c = r.long_run_per_h
        rows += [
            ("in the long run, overhauled at the planned hours", b),
            ("  low (one-sided 95 %)", a),
            ("  high (one-sided 95 %)", c),
        ]
    return table_of(
        rows,
        key="forecast-reserve",
        title="Reserve fund",
        columns=(
            col("what", "Money per engine hour", lambda x: x[0]),
            col("per_h", f"{r.currency} per h", lambda x: x[1], "number"),
        ),
        see="The forecast counts what falls due within it; the long run spreads every overhaul and "
        "failure over the hours between them.",
    )
