"""Tables of levels: what the records hold, effects within strata, and life at chosen values."""

from __future__ import annotations

from fleetstats.chapters.covariates.values import AnswerAt, Effects
from fleetstats.chapters.covariates.words import values_words
from fleetstats.document.document import Block, Statement, Table
from fleetstats.document.table_of import ColumnOf, col, table_of
from fleetstats.survival.regression.held_law import AgeAt
from fleetstats.survival.regression.stratified import Stratified
from fleetstats.vocabulary.wording import count

Row = tuple[float | None, AgeAt]
"""A shape taken as known, or None, and what holds at an age."""

PER = 1000.0
"""Hours over which a hazard is printed."""


def level_blocks(e: Effects) -> list[Block]:
    """Return what the records hold of each level, what is adjusted for, and effects over shapes."""
    out: list[Block] = [_levels(e)]
    if e.not_adjusted:
        out.append(Statement(text=f"Not adjusted for {'; '.join(e.not_adjusted)}."))
    if e.n_changed:
        out.append(
            Statement(
                text=f"{count(e.n_changed, 'life', 'lives')} changed a level on the way; each is "
                "cut there, and what it ran before and after stands under its own level."
            )
        )
    if e.over_shapes:
        out.append(_over_shapes(e))
    return out


def _levels(e: Effects) -> Table:
    return table_of(
        e.levels,
        key="levels-held",
        title="What the records hold of each level",
        columns=(
            col("column", "Column", lambda x: x.column),
            col("level", "Level", lambda x: x.level),
            col("reference", "Others are set against it", lambda x: "yes" if x.reference else ""),
            col("lives", "Lives or parts of lives", lambda x: x.lives, "count"),
            col("hours", "Hours at risk", lambda x: x.hours, "hours"),
            col("failures", "Failures", lambda x: x.failures, "count"),
            col("oldest", "Oldest", lambda x: x.oldest_h, "hours"),
        ),
    )


def _over_shapes(e: Effects) -> Table:
    level = e.over_shapes[0].level
    sure = f"{50 + 50 * level:g} %"
    return table_of(
        e.over_shapes,
        key="effects-over-shapes",
        title="Effects at each shape, taken as known",
        columns=(
            col("covariate", "Covariate", lambda x: x.name),
            col("shape", "Shape", lambda x: x.shape, "number"),
            col("failures", "Failures", lambda x: x.failures, "count"),
            col("against", "Of the reference", lambda x: x.failures_reference, "count"),
            col("ratio", "Hazard ratio", lambda x: x.ratio, "number", beside=(1.0,)),
            col("factor", "Life factor", lambda x: x.factor, "number", beside=(1.0,)),
            col("low", f"Low ({100 * level:g} %)", lambda x: x.low, "number", beside=(1.0,)),
            col("high", f"High ({100 * level:g} %)", lambda x: x.high, "number", beside=(1.0,)),
            col("telling", "Strata that tell", lambda x: f"{x.strata_telling} of {x.strata}"),
        ),
        see=(
            "Too few failures to tell a shape, so each is looked at. Limits are exact for counts "
            "over these hours, within strata of what effects are adjusted for and of the other "
            f"columns; where one side had no failure there is one limit, one-sided at {sure}, and "
            "no estimate. An empty edge means that there is none. The true effect is at none of "
            "these shapes better known than its row says."
        ),
    )


def within_strata(w: Stratified) -> Table:
    """Return hazard ratios of levels within builds and periods."""
    left = f" Left out: {'; '.join(w.left_out)}." if w.left_out else ""
    return table_of(
        w.ratios,
        key="hazard-ratios",
        title="Hazard ratios within strata (no life law)",
        columns=(
            col("covariate", "Covariate", lambda h: _per(h.name, h.step)),
            col("ratio", "Hazard ratio", lambda h: h.ratio, "number", beside=(1.0,)),
            col("low", f"Low ({100 * w.level:g} %)", lambda h: h.low, "number", beside=(1.0,)),
            col("high", f"High ({100 * w.level:g} %)", lambda h: h.high, "number", beside=(1.0,)),
        ),
        see=(
            "Above 1 means more failures per hour. Each stratum has a hazard by age of its own; "
            f"strata: {', '.join(w.strata)}.{left}"
        ),
        folded=True,
    )


def _per(name: str, step: float) -> str:
    return name if ": " in name else f"{name}, per {step:g}"


def at_blocks(at: AnswerAt) -> list[Block]:
    """Return life, reliability and hazard at the values asked for."""
    out: list[Block] = [Statement(text=at.sentence, tone="answer")]
    others = [f"{v.name} {v.value} ({v.how})" for v in at.values if v.how != "asked"]
    if others:
        out.append(Statement(text=f"The other covariates stand at {', '.join(others)}."))
    rows: list[Row] = [] if at.law is None else [(None, a) for a in at.law.ages]
    rows += [(s.shape, a) for s in at.shapes for a in s.ages]
    if not rows:
        return out
    sure = f"{100 * at.level:g} %"
    columns: list[ColumnOf[Row]] = [
        col("hours", "At hours", lambda x: x[1].hours, "hours"),
        col("reliability", "Reliability", lambda x: x[1].reliability.estimate, "percent"),
        col("low", f"Low ({sure})", lambda x: x[1].reliability.low, "percent", edge="low"),
        col("high", f"High ({sure})", lambda x: x[1].reliability.high, "percent", edge="high"),
        col("hazard", "Hazard per 1,000 h", lambda x: _per_kh(x[1].hazard_per_h.estimate),
            "number"),
        col("hazard_low", f"Hazard low ({sure})", lambda x: _per_kh(x[1].hazard_per_h.low),
            "number"),
        col("hazard_high", f"Hazard high ({sure})", lambda x: _per_kh(x[1].hazard_per_h.high),
            "number"),
        col("beyond", "Beyond any such life", lambda x: "yes" if x[1].extrapolated else ""),
    ]  # fmt: skip
    if at.shapes:
        columns.insert(0, col("shape", "Shape", lambda x: x[0], "number"))
    one = at.n_failed == 0
    out.append(
        table_of(
            rows,
            key="at-values",
            title=f"Reliability and hazard at {values_words(at)}",
            columns=tuple(columns),
            see=(
                "By the profile of the likelihood."
                if at.law is not None
                else "From the lives with just these values, at each shape taken as known; exact "
                "for counts over these hours."
            )
            + (
                f" No failure among them, so each limit is one-sided at {50 + 50 * at.level:g} % "
                "and there is no estimate."
                if one and (at.law is None or at.law.one_sided)
                else ""
            ),
        )
    )
    return out


def _per_kh(x: float | None) -> float | None:
    return None if x is None else PER * x
