"""Covariates: life factors, hazard ratios and what checks of them say."""

from __future__ import annotations

import math

import numpy as np

from fleetstats.chapters.covariates.level_tables import at_blocks, level_blocks, within_strata
from fleetstats.chapters.covariates.values import Effects
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
from fleetstats.document.glossary import explain
from fleetstats.document.table_of import col, table_of
from fleetstats.survival.regression.proportional import Proportional
from fleetstats.survival.regression.regression import Regression
from fleetstats.vocabulary.limits import SHOWN_P


def compose_regression(effects: Effects) -> Section:
    """Return the section on builds, use and other covariates."""
    blocks: list[Block] = []
    r = effects.regression
    if effects.at is not None:
        blocks += at_blocks(effects.at)
    if r is None:
        blocks.append(Statement(text=effects.sentence, tone="missing"))
    else:
        tone = "missing" if r.treatment == "refused" else "answer"
        blocks.append(Statement(text=effects.sentence, tone=tone))
        if r.treatment != "refused":
            blocks.append(Statement(text=r.because, tone="assumption"))
        blocks += [
            Statement(text=f"{c.text} ({c.value}.)", tone="caution") for c in effects.cautions
        ]
        if r.factors:
            blocks += [
                Statement(
                    text="A life factor says what goes together in these records, not what would "
                    "happen if it were changed: clubs that differ in use differ in other ways.",
                    tone="assumption",
                ),
                Explain(
                    term="life factor",
                    text="By how much the hours to any given chance of failure are multiplied. 0.5 "
                    "halves life, 2 doubles it, 1 leaves it as it is.",
                ),
                *([_figure(r)] if any(f.factor is not None for f in r.factors) else []),
                _factors(r),
                explain("p-value"),
            ]
        if effects.hazards is not None:
            blocks.append(_hazards(effects.hazards))
        elif effects.within is not None:
            blocks.append(within_strata(effects.within))
        elif effects.no_hazards and r.factors:
            blocks.append(Statement(text=f"Hazard ratios: {effects.no_hazards}", tone="missing"))
        lost = [f"{n} lives, {why}" for why, n in r.set_aside if n]
        dropped = [why for why, n in r.set_aside if not n]
        if lost or dropped:
            blocks.append(
                Statement(text="Left out of this chapter: " + "; ".join(lost + dropped) + ".")
            )
    if effects.levels:
        blocks += level_blocks(effects)
    return Section(key="regression", title="Builds, use and other covariates", blocks=tuple(blocks))


def _per(name: str, step: float) -> str:
    return name if ": " in name else f"{name}, per {step:g}"


def _figure(r: Regression) -> Figure:
    shown = [f for f in r.factors if f.factor is not None]
    names = tuple(_per(f.name, f.step) for f in shown)
    factor = np.array([f.factor for f in shown])
    low = np.array([f.low if f.low is not None else math.nan for f in shown])
    high = np.array([f.high if f.high is not None else math.nan for f in shown])
    return Figure(
        key="life-factors",
        title="Life factors with their bands",
        see="A bar that lies wholly on one side of 1 goes with longer (above) or shorter (below) "
        "life; a bar across 1 leaves the question open.",
        alt="Points with error bars: "
        + "; ".join(f"{n} {x:.2f}" for n, x in zip(names, factor, strict=True))
        + ".",
        panels=(
            Panel(
                x=Axis(label="Covariate", scale="category", categories=names),
                y=Axis(
                    label="Life factor",
                    scale="log",
                    low=0.9 * float(np.nanmin([*low, *factor, 1.0])),
                    high=1.1 * float(np.nanmax([*high, *factor, 1.0])),
                ),
                layers=(
                    Layer(kind="hline", role="reference", label="no effect", y=np.array([1.0])),
                    Layer(
                        kind="points",
                        role="estimate",
                        label=f"with {100 * r.level:g} % band",
                        x=np.arange(len(names), dtype=float),
                        y=factor,
                        low=low,
                        high=high,
                        names=names,
                    ),
                ),
            ),
        ),
    )


def _factors(r: Regression) -> Table:
    return table_of(
        r.factors,
        key="life-factors",
        title="Life factors (Weibull accelerated life)",
        columns=(
            col("covariate", "Covariate", lambda f: _per(f.name, f.step)),
            col("factor", "Life factor", lambda f: f.factor, "number", beside=(1.0,)),
            col("low", f"Low ({100 * r.level:g} %)", lambda f: f.low, "number", beside=(1.0,)),
            col("high", f"High ({100 * r.level:g} %)", lambda f: f.high, "number", beside=(1.0,)),
            col("reading", "Shown", lambda f: f.reading),
            col("shape", "Same shape p", lambda f: f.shape_p_value, "number", beside=(SHOWN_P,)),
            col("prior", "From the prior", lambda f: f.prior_share, "percent"),
        ),
        see=(
            "Bands are from the profile likelihood; an empty edge means that these data set no "
            "limit on that side. A small p for one shape means that the factor changes with age."
            + (
                " Where no estimate stands, the level had no failure: its limit is one-sided, "
                f"at {50 + 50 * r.level:g} %."
                if any(f.factor is None for f in r.factors)
                else ""
            )
        ),
    )


def _hazards(p: Proportional) -> Table:
    return table_of(
        p.ratios,
        key="hazard-ratios",
        title="Hazard ratios (proportional hazards, no life law)",
        columns=(
            col("covariate", "Covariate", lambda h: _per(h.name, h.step)),
            col("ratio", "Hazard ratio", lambda h: h.ratio, "number", beside=(1.0,)),
            col("low", f"Low ({100 * p.level:g} %)", lambda h: h.low, "number", beside=(1.0,)),
            col("high", f"High ({100 * p.level:g} %)", lambda h: h.high, "number", beside=(1.0,)),
            col(
                "proportional",
                "Proportional p",
                lambda h: h.proportional_p,
                "number",
                beside=(SHOWN_P,),
            ),
        ),
        see=(
            "Above 1 means more failures per hour; a small p says that the ratio changes with age. "
            + p.note
        ),
        folded=True,
    )
