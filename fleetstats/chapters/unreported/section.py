"""Chapter: how many failures nobody reported."""

from __future__ import annotations

from fleetstats.chapters.unreported.values import Overlap, Unreported
from fleetstats.chapters.unreported.words import (
    basis_words,
    confidence_words,
    effect_words,
    limits_words,
    model_name,
)
from fleetstats.core.units import text_number
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Explain, Section, Table
from fleetstats.document.references import point
from fleetstats.document.table_of import col, table_of
from fleetstats.survival.counting.capture import Unseen
from fleetstats.vocabulary.wording import listed


def compose_unreported(u: Unreported) -> Section:
    """Return the chapter from its value."""
    tone = "caution" if u.cautions else "answer" if u.state == "answered" else "missing"
    blocks: list[Block] = [say(u.sentence, tone)]
    effect = effect_words(u)
    if effect:
        blocks.append(say(effect))
    blocks += [say(t, "assumption") for t in basis_words(u)]
    blocks.append(_told(u))
    lines = [(o, m, i == o.best) for o in u.overlaps for i, m in enumerate(o.models)]
    if any(len(o.models) > 1 for o in u.overlaps):
        blocks.append(_models(lines))
    dependent = [(o, m) for o in u.overlaps for m in o.dependent]
    if dependent:
        blocks.append(_dependent(dependent, u))
    blocks.append(
        Explain(
            term="overlap",
            text=(
                "Two who look independently at the same failures each miss some. The share of the "
                "one's that the other has too says how complete the other is, and so how many both "
                "missed (Chapman 1951)."
            ),
        )
    )
    return Section(
        key="unreported", title="How many failures nobody reported", blocks=tuple(blocks)
    )


def _told(u: Unreported) -> Table:
    rows = [(o, told, n) for o in u.overlaps for told, n in o.patterns]
    return table_of(
        rows,
        key="unreported-told",
        title="Failures in question, by who told them",
        columns=(
            col("sources", "Could have told", lambda x: _names(x[0])),
            col("engines", "Engines covered", lambda x: x[0].n_engines, "count"),
            col("told", "Told by", lambda x: listed(
                [s for s, t in zip(x[0].sources, x[1], strict=True) if t])),
            col("n", "Failures", lambda x: x[2], "count"),
        ),
        see="Which reports tell of one engine: " + point("returns", otherwise="see the merging")
        + ".",
    )  # fmt: skip


def _models(lines: list[tuple[Overlap, Unseen, bool]]) -> Table:
    return table_of(
        lines,
        key="unreported-models",
        title="Failures told by nobody, by how sources may depend on each other",
        columns=(
            col("sources", "Sources", lambda x: _names(x[0])),
            col("model", "Supposed", lambda x: model_name(x[1], x[0])),
            col("estimate", "Told by nobody", lambda x: _number(x[1].estimate)),
            col("limits", "Limits", lambda x: limits_words(x[1].low, x[1].high)),
            col("aicc", "Criterion", lambda x: _number(x[1].aicc)),
            col("quoted", "Quoted", lambda x: "quoted" if x[2] else ""),
        ),
        see="The lower the criterion, the better a model fits for what it costs; the range of the "
        "models is part of the doubt.",
    )


def _dependent(lines: list[tuple[Overlap, Unseen]], u: Unreported) -> Table:
    return table_of(
        lines,
        key="unreported-dependence",
        title="Failures told by nobody, if one source's telling hangs on the other's",
        columns=(
            col("sources", "Sources", lambda x: _names(x[0])),
            col("odds_ratio", "Odds ratio", lambda x: x[1].odds_ratio, "number"),
            col("estimate", "Told by nobody", lambda x: _number(x[1].estimate)),
            col("limits", "Limits", lambda x: limits_words(x[1].low, x[1].high)),
        ),
        see="At 1 the sources are independent; above 1 a failure that one tells is more likely "
        f"told by the other too. Limits: {confidence_words(u.level)}"
        + (", held over all overlaps." if len(u.overlaps) > 1 else "."),
    )


def _names(o: Overlap) -> str:
    return listed(list(o.sources))


def _number(x: float | None) -> str:
    return "cannot be told" if x is None else text_number(x, digits=2 if abs(x) < 100.0 else 3)
