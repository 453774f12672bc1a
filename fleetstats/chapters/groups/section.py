"""May the records be pooled: ratios against the margin, spread, influence, late joiners."""

from __future__ import annotations

import math

import numpy as np

from fleetstats.advice.key_figures import AdviceFigure
from fleetstats.chapters.between_sources import BetweenSources
from fleetstats.chapters.groups.figures import draw_ratios, draw_regions
from fleetstats.chapters.groups.influence import InfluenceLine
from fleetstats.chapters.groups.values import Pooled, PoolingBy
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
from fleetstats.document.layers import mark_at
from fleetstats.document.table_of import ColumnOf, col, table_of
from fleetstats.survival.groups.between import Between
from fleetstats.survival.groups.pooling import VERDICTS, ScaleRatio
from fleetstats.vocabulary.capitals import small
from fleetstats.vocabulary.wording import hours_down, hours_near

_TONES = {"inside": "answer", "outside": "answer", "cannot-tell": "missing"}


def compose_pooling(pooled: Pooled, sources: BetweenSources | None = None) -> Section:
    """Return the section on pooling, influence and late joiners; a new source beside the others."""
    blocks: list[Block] = []
    if not pooled.groups:
        blocks.append(Statement(text=pooled.sentence))
    else:
        blocks.append(
            Explain(
                term="margin",
                text="The range of life ratios within which the study holds two groups to be "
                "alike, declared before looking. Only a band that lies wholly inside it permits "
                "pooling. That no difference is shown permits nothing: few failures hide any.",
            )
        )
    for group in pooled.groups:
        blocks += _group(group)
        if group.by == "source" and sources is not None:
            blocks += [Statement(text=sources.sentence, tone=_TONES[sources.verdict])]
            blocks += [Statement(text=c.text, tone="caution") for c in sources.cautions]
    # what turns the conclusion is named below, with its records
    told = [c for c in pooled.cautions if c.code != "one-unit" or not pooled.influence]
    blocks += [Statement(text=c.text, tone="caution") for c in told]
    blocks += _influence(pooled)
    blocks += [explain("p-value"), *_entry(pooled)]
    return Section(
        key="pooling",
        title="May the records be pooled, and what carries them?",
        blocks=tuple(blocks),
    )


def _group(g: PoolingBy) -> list[Block]:
    blocks: list[Block] = [Statement(text=g.sentence, tone=_TONES[g.verdict])]
    blocks += [
        Statement(
            text=f"For {r.name} against {r.against}: {_inner(r.needed.sentence)}", tone="missing"
        )
        for r in _most_needed(g)
        if r.needed is not None
    ]
    blocks += [draw_ratios(g), _ratios(g), _tests(g)]
    if len(g.regions) > 1:
        blocks += [
            Explain(
                term="joint likelihood region",
                text="All pairs of shape and scale that these records support about equally well. "
                "Regions that lie apart show a difference; regions that overlap do not show "
                "that there is none.",
            ),
            draw_regions(g),
        ]
    if g.between is not None:
        blocks += _between(g.between)
    else:
        blocks.append(Statement(text=f"No band for a new {g.by}. {g.no_between}", tone="missing"))
    if g.widening is not None and g.widening > 1.0:
        blocks.append(
            Statement(
                text=f"If whole {g.by}s vary, not single engines, the spread of the fitted life is "
                f"{g.widening:.1f} times as wide: failures of one {g.by} are not separate "
                "witnesses.",
                tone="caution" if g.widening > 1.25 else "fact",
            )
        )
    return blocks


def _inner(sentence: str) -> str:
    """Return a sentence as it stands after a colon."""
    return small(sentence)


def _most_needed(g: PoolingBy) -> list[ScaleRatio]:
    """The pair that needs most, so that the sentence is said once."""
    return sorted(
        (r for r in g.ratios if r.needed is not None),
        key=lambda r: -((r.needed.hours_each if r.needed else None) or 0.0),
    )[:1]


def _ratios(g: PoolingBy) -> Table:
    first = g.ratios[0]
    level = f"{100 * first.level:g} %"
    return table_of(
        g.ratios,
        key=f"pooling-{g.by}",
        title=f"Ratio of lives by {g.by}",
        columns=(
            col("group", g.by.capitalize(), lambda r: r.name),
            col("against", "Against", lambda r: r.against),
            col("failures", "Failures", lambda r: r.n_failed, "number"),
            col("hours", "Hours", lambda r: r.exposure_h, "hours"),
            col("ratio", "Life ratio", lambda r: r.ratio, "number", beside=first.margin),
            col("low", f"Low ({level})", lambda r: r.low, "number", beside=first.margin),
            col("high", f"High ({level})", lambda r: r.high, "number", beside=first.margin),
            *_apart(g),
            col("verdict", "Verdict", lambda r: VERDICTS[r.verdict]),
            col(
                "needed",
                "Failures needed in each",
                lambda r: r.needed and r.needed.failures_each,
                "number",
            ),
        ),
        see=(
            f"The margin is {first.margin[0]:g} to {first.margin[1]:g}. An empty edge means that "
            "these data set no limit on that side."
            + (
                f" Of {first.comparisons} {g.by}s one may stand out by chance, so that one is "
                f"called different only by its {100 * first.apart_level:.3g} % band."
                if first.comparisons > 1
                else ""
            )
        ),
    )


def _apart(g: PoolingBy) -> tuple[ColumnOf[ScaleRatio], ...]:
    """Return the wider band of groups that stand out, where there are any."""
    first = g.ratios[0]
    if first.comparisons < 2 or all(r.apart_low is r.apart_high is None for r in g.ratios):
        return ()
    level = f"{100 * first.apart_level:.3g} %"
    return (
        col("apart_low", f"Low ({level})", lambda r: r.apart_low, "number", beside=first.margin),
        col("apart_high", f"High ({level})", lambda r: r.apart_high, "number", beside=first.margin),
    )


def _tests(g: PoolingBy) -> Block:
    c = g.comparison
    if not c.tests:
        return Statement(text=f"There is no test by {g.by}. {c.note}", tone="missing")
    return table_of(
        c.tests,
        key=f"pooling-tests-{g.by}",
        title=f"Likelihood-ratio tests by {g.by}",
        columns=(
            col("what", "Held against", lambda t: t.what),
            col("statistic", "Statistic", lambda t: t.statistic, "number"),
            col("df", "Degrees of freedom", lambda t: t.df, "count"),
            col("p", "p", lambda t: t.p_value, "number"),
            col("note", "Note", lambda t: t.note),
        ),
        see=(
            "A small p speaks against one common value. A large p permits nothing: it may only "
            "mean too few failures."
        ),
        folded=True,
    )


def _between(b: Between) -> list[Block]:
    n = b.new
    life = f"B{100 * b.p:g} life"
    blocks: list[Block] = [
        Statement(
            text=f"A {b.by} not yet seen may have a {life} of {hours_down(n.life_low_h)} to "
            f"{hours_near(n.life_high_h)} ({100 * b.level:g} %, middle {hours_near(n.life_h)}); "
            f"lives of {b.by}s spread by a factor of about {math.exp(b.tau):.1f} either way.",
            tone="answer",
        ),
        Explain(
            term=f"spread between {b.by}s",
            text="How far the lives of groups scatter around their middle, beyond chance. Each "
            "group's own life is drawn towards the middle, the more so the fewer its failures.",
        ),
    ]
    if b.prior_driven:
        blocks.append(
            Statement(
                text=f"With these few {b.by}s the band rests on a stated prior of the spread "
                f"(half-normal, scale {n.prior_tau:g} in log life). Under rival priors: "
                + "; ".join(
                    f"scale {r.prior_tau:g}: {hours_down(r.life_low_h)} to "
                    f"{hours_near(r.life_high_h)}"
                    for r in b.rivals
                )
                + ".",
                tone="assumption",
            )
        )
    blocks.append(
        table_of(
            (*b.sources, None),
            key=f"shrunken-{b.by}",
            title=f"Scale (hours by which 63 % fail) of each {b.by}, alone and drawn in",
            columns=(
                col("name", b.by.capitalize(), lambda s: s.name if s else f"a new {b.by}"),
                col("lives", "Lives", lambda s: s.n if s else None, "count"),
                col("failures", "Failures", lambda s: s.n_failed if s else None, "number"),
                col("alone", "Alone", lambda s: s.alone_h if s else None, "hours"),
                col("scale", "Drawn in", lambda s: (s or n).scale_h, "hours"),
                col(
                    "low",
                    f"Low ({100 * b.level:g} %)",
                    lambda s: s.low_h if s else n.scale_low_h,
                    "hours",
                ),
                col(
                    "high",
                    f"High ({100 * b.level:g} %)",
                    lambda s: s.high_h if s else n.scale_high_h,
                    "hours",
                ),
            ),
            see=f"An empty 'Alone' means no failures: that {b.by}'s own records set no upper "
            "limit to its life.",
            folded=True,
        )
    )
    return blocks


def _influence(pooled: Pooled) -> list[Block]:
    if not pooled.influence:
        return []
    turning = [x for x in pooled.influence if x.turns]
    carrying = [x for x in turning if x.carries]

    def named(lines: list[InfluenceLine]) -> str:
        return ", ".join(f"the {x.kind} “{x.name}”" for x in lines)

    if carrying:
        text = (
            f"The conclusion turns without {named(carrying)}, and moves more than the loss of as "
            "many engines explains: look at these records first."
        )
    elif turning:
        text = (
            f"The conclusion stands near its limit: it turns without {named(turning)}, but moves "
            "no more than without as many engines drawn at random. No single one carries it."
        )
    else:
        text = (
            "No source, build or engine that was left out turns the conclusion "
            f"({len(pooled.influence)} tried)."
        )
    return [
        Statement(text=text, tone="caution" if carrying else "fact" if turning else "answer"),
        *([_influence_figure(pooled)] if _moved(pooled) else []),
        _influence_table(pooled),
    ]


def _influence_table(pooled: Pooled) -> Table:
    """Return the advice from all records, then with each one left out."""

    def figure(x: InfluenceLine | None) -> AdviceFigure:
        return pooled.base if x is None else x.figure

    return table_of(
        (None, *pooled.influence),
        key="influence",
        title="The advice with one left out",
        columns=(
            col("kind", "Left out", lambda x: x.kind if x else "nothing"),
            col("name", "Which", lambda x: x.name if x else ""),
            col("lives", "Lives", lambda x: x.n_out if x else None, "count"),
            col(
                "failures",
                "Failures",
                lambda x: x.n_failed_out if x else pooled.base.n_failed,
                "number",
            ),
            col("plan_from", "Plan from", lambda x: figure(x).plan_from_h, "hours"),
            col("change", "Moves by", lambda x: x.change_h if x else None, "hours"),
            col(
                "life_change",
                "Life's lower edge moves by",
                lambda x: x.change_life_h if x else None,
                "hours",
            ),
            col("verdict", "Verdict on the claim", lambda x: _words(figure(x))),
            col("turns", "Turns", lambda x: ("yes" if x.turns else "no") if x else ""),
            col(
                "beyond_chance",
                "More than chance",
                lambda x: ("yes" if x.beyond_chance else "no") if x and x.turns else "",
            ),
        ),
        see=f"{pooled.engines_compared} engines were refitted one by one to find those that "
        "weigh most; the whole advice was redone for the weightiest."
        if pooled.engines_compared
        else "No engine was left out by itself.",
        folded=True,
    )


def _words(figure: AdviceFigure) -> str:
    return (figure.verdict or figure.state).replace("-", " ")


def _moved(pooled: Pooled) -> list[InfluenceLine]:
    return [x for x in pooled.influence if x.change_life_h is not None]


def _signed(hours: float) -> str:
    return f"{hours:+,.0f} h".replace("-", "−")


def _influence_figure(pooled: Pooled) -> Figure:
    lines = sorted(_moved(pooled), key=lambda x: -abs(x.change_life_h or 0.0))
    names = tuple(f"{x.kind} {x.name}" for x in lines)
    change = np.array([x.change_life_h or 0.0 for x in lines])
    return Figure(
        key="influence",
        title="What each one carries",
        see=f"Without the {names[0]} the lower edge of the target life moves by "
        f"{_signed(change[0])}, most of all.",
        alt="Bars of hours by which the lower edge of the target life moves when one is left out: "
        + "; ".join(f"{n} {_signed(c)}" for n, c in zip(names, change, strict=True))
        + ".",
        panels=(
            Panel(
                x=Axis(label="Lower edge of the target life moves by", unit="h"),
                y=Axis(label="", scale="category", categories=names),
                layers=(
                    mark_at("reference", "all records", 0.0),
                    Layer(
                        kind="spans",
                        role="estimate",
                        x=np.minimum(change, 0.0),
                        x2=np.maximum(change, 0.0),
                        y=np.arange(len(names), dtype=float),
                        names=names,
                    ),
                ),
            ),
        ),
        height=1.2 + 0.25 * len(names),
    )


def _entry(pooled: Pooled) -> list[Block]:
    e = pooled.entry
    tone = {"too-few": "missing", "no-late-entry": "fact", "not-related": "fact"}
    blocks: list[Block] = [Statement(text=e.sentence, tone=tone.get(e.reading, "caution"))]
    if pooled.settled is None and pooled.from_new is None:
        return blocks
    rows = [("all records", pooled.base)]
    if pooled.settled is not None:
        rows.append((f"without the first {pooled.settled_h:,.0f} h after joining", pooled.settled))
    if pooled.from_new is not None:
        rows.append(("engines followed from new alone", pooled.from_new))
    blocks.append(
        table_of(
            rows,
            key="entry",
            title="Do engines that joined late tell another story?",
            columns=(
                col("case", "Records", lambda x: x[0]),
                col("failures", "Failures", lambda x: x[1].n_failed, "number"),
                col("plan_from", "Plan from", lambda x: x[1].plan_from_h, "hours"),
                col("expect_at", "Expect at", lambda x: x[1].expect_at_h, "hours"),
                col("life_low", "Life's lower edge", lambda x: x[1].life_low_h, "hours"),
                col("verdict", "Verdict on the claim", lambda x: _words(x[1])),
            ),
            see="Conditioning on entry is right only if joining has nothing to do with how long an "
            "engine lives; where the rows differ much, ask why engines joined.",
            folded=True,
        )
    )
    return blocks
