"""The chapter on made-up fleets: a picture and a table."""

from __future__ import annotations

from fleetstats.chapters.stress.values import LEVEL, Stress, StressedTruth
from fleetstats.chapters.stress.words import NO_PROOF, basis_sentences
from fleetstats.document.blocks import say
from fleetstats.document.document import Axis, Figure, Panel, Section, Table
from fleetstats.document.layers import bars_at, mark_at, points_at
from fleetstats.document.table_of import ColumnOf, col, table_of
from fleetstats.vocabulary.wording import stated


def compose_stress(stress: Stress) -> Section:
    """Return the section."""
    return Section(
        key="stress",
        title="Would this claim be made wrongly, were lives not so?",
        blocks=(
            say(stress.sentence, "answer"),
            say(NO_PROOF, "assumption"),
            _figure(stress),
            _table(stress),
            *(say(text, "fact") for text in basis_sentences(stress)),
        ),
    )


def _figure(s: Stress) -> Figure:
    names = tuple(t.title for t in s.truths)
    promised = stated(round(s.promised, 10))
    shares = [(0.0, t.share, i) for i, t in enumerate(s.truths)]
    limits = [(x, i) for i, t in enumerate(s.truths) for x in t.limits]
    return Figure(
        key="stress-shares",
        title="Fleets whose claim would be called supported wrongly",
        see=f"A bar that passes the line at {promised} is a truth under which the confidence of "
        "this study is not kept; the two points of a row say how far its share may be off.",
        alt="One horizontal bar for each truth, as long as the share of made-up fleets whose claim "
        "was called supported: "
        + "; ".join(f"{t.title} {100 * t.share:.1f} %" for t in s.truths)
        + f". A vertical line stands at {promised}.",
        panels=(
            Panel(
                x=Axis(label="share of fleets", unit="probability", low=0.0),
                y=Axis(label="", scale="category", categories=names),
                layers=(
                    bars_at("estimate", "called supported", shares, names),
                    points_at("reference", f"{stated(LEVEL)} limits of the share", limits),
                    mark_at("target", f"promised at most {promised}", s.promised),
                ),
            ),
        ),
        height=1.2 + 0.3 * len(names),
    )


def _table(s: Stress) -> Table:
    rows = [*s.truths, s.better]

    def title(t: StressedTruth) -> str:
        return t.title if t is not s.better else f"{t.title}, half the accepted chance"

    return table_of(
        rows,
        key="stress",
        title=f"What would be said of the claim at {s.hours:,.0f} h, {s.fleets:,} fleets a row",
        columns=(
            col("truth", "If", title),
            col("chance", "Truly fail by then", lambda t: t.chance, "percent"),
            col("failures", "Failures recorded, mean", lambda t: t.failures, "number"),
            col("supported", "Called supported", lambda t: t.share, "percent",
                beside=(s.promised,)),
            col("low", f"Low ({stated(LEVEL)})", lambda t: t.limits[0], "percent", edge="low"),
            col("high", f"High ({stated(LEVEL)})", lambda t: t.limits[1], "percent", edge="high"),
            col("contradicted", "Contradicted", lambda t: t.share_contradicted, "percent"),
            col("fleets", "Fleets supported", lambda t: t.supported, "count"),
            *(_sign(k, name) for k, name in enumerate(s.signs)),
            col("any", "Of them: any caution", lambda t: t.any_sign, "count"),
        ),
        see="In all rows but the last the claim is at the edge of being untrue, and calling it "
        "supported is wrong; in the last it is true, and calling it supported is right.",
    )  # fmt: skip


def _sign(k: int, name: str) -> ColumnOf[StressedTruth]:
    return col(f"sign_{k + 1}", f"Of them: {name}", lambda t: t.signs[k], "count")
