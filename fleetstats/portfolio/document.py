"""A portfolio's report: the ranking, the last year beside the year before, what has no answer."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable

from fleetstats import __version__
from fleetstats.advice.advice import VERDICT_WORDS
from fleetstats.bands.interval import Interval
from fleetstats.core.provenance import Provenance, installed_versions
from fleetstats.document.blocks import facts, say
from fleetstats.document.document import (
    Axis,
    Block,
    Document,
    Explain,
    Figure,
    Panel,
    Section,
    Table,
)
from fleetstats.document.layers import bars_at, mark_at, points_at
from fleetstats.document.table_of import ColumnOf, col, table_of
from fleetstats.portfolio.ranking import Portfolio, Ranked
from fleetstats.records.split_families import FamilyList
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.provisos import but_open
from fleetstats.vocabulary.wording import count

MOST_DRAWN = 24
"""Families in the picture; the table has all."""

WORDS = VERDICT_WORDS | {"": "none claimed"}

OVERHAUL = {
    "answered": "advised",
    "evidence-limit": "none: wear-out not shown; the targets hold to 'plan from'",
    "target-not-shown": "none: the risk target is shown at no age",
    "hours-do-not-tell": "none: hours do not tell",
    "not-enough-evidence": "none: too few records",
    "": "",
}


def compose_portfolio(
    portfolio: Portfolio, families: FamilyList, *, command: str, pages: tuple[str, ...] = ()
) -> Document:
    """Return a portfolio's report, format-free.

    Parameters
    ----------
    portfolio : Portfolio
        As ranked.
    families : FamilyList
        Its families and the files they came from.
    command : str
        The command that makes it again.
    pages : tuple of str
        Slugs of families that have a report of their own beside this one.
    """
    h = hashlib.sha256(f"{__version__}\0{portfolio.share!r}\n".encode())
    for f in families.families:
        h.update(f"{f.slug}\0{f.digest}\n".encode())
    dates = {r.row.year.until for r in portfolio.ranked if r.row.year is not None}
    seeds = {f.study.settings.study.seed for f in families.families if f.study is not None}
    sections = (
        _ranking(portfolio, pages),
        _years(portfolio),
        _without_answer(portfolio),
        _how(portfolio),
    )
    return Document(
        title=portfolio.title,
        subtitle=f"A portfolio of {len(portfolio.ranked):,} families",
        report_id=f"FS-{h.hexdigest()[:10]}",
        answer=portfolio.sentences,
        verdict="ranked" if any(r.row.done for r in portfolio.ranked) else "not-enough-evidence",
        first_figure=_figure(portfolio),
        sections=tuple(s for s in sections if s is not None),
        cautions=_cautions(portfolio),
        provenance=Provenance(
            files=families.sources,
            versions=installed_versions(),
            seed=seeds.pop() if len(seeds) == 1 else 0,
            command=command,
        ),
        asked="Many families",
        cut_off=str(dates.pop()) if len(dates) == 1 else "",
        method=f"each family by itself, fleetstats {__version__}",
    )


def _ranking(p: Portfolio, pages: tuple[str, ...]) -> Section | None:
    done = [r for r in p.ranked if r.row.done]
    if not done:
        return None
    ranking = table_of(
        done,
        key="ranking",
        title="All families, ranked",
        columns=(
            col("rank", "Rank", lambda r: r.rank, "count"),
            col("family", "Family", lambda r: r.row.family),
            col("lives", "Lives", lambda r: r.row.n_lives, "count"),
            col("failures", "Failures", lambda r: r.row.n_failed, "count"),
            *_without_hours(done),
            col("worse", "Worse than the year before", lambda r: _called(r)),
            col("claimed_h", "Claimed", lambda r: r.row.claimed_h, "hours"),
            col("verdict", "Claim", lambda r: WORDS[r.row.verdict] + but_open(r.row.provisos)),
            col("overhaul", "Overhaul age", lambda r: OVERHAUL[r.row.band_state]),
            col("plan_from_h", "Plan from", lambda r: r.row.plan_from_h, "hours"),
            col("expect_at_h", "Expect at", lambda r: r.row.expect_at_h, "hours"),
            col("not_beyond_h", "Not beyond", lambda r: r.row.not_beyond_h, "hours"),
            col("evidence_ends_h", "Evidence ends", lambda r: r.row.supported_h, "hours"),
            col("page", "Page", lambda r: f"pages/{r.row.slug}" if r.row.slug in pages else ""),
        ),
        see=(
            "First the families called worse than the year before, then by how far the claim is "
            "from shown, then by the earliest plan-from."
        ),
    )
    fits = table_of(
        done,
        key="fits",
        title="What each ranking rests on",
        columns=(
            col("family", "Family", lambda r: r.row.family),
            col("exposure_h", "Exposure", lambda r: r.row.exposure_h, "hours"),
            col("oldest_h", "Oldest", lambda r: r.row.oldest_h, "hours"),
            *_edges("shape", "Shape", lambda r: r.row.shape, "number"),
            *_edges("life", "Target life", lambda r: r.row.life, "hours"),
            *_edges("at_claim", "R at claim", lambda r: r.row.at_claim, "percent"),
            *_with_left_out(done),
            col("no_fit", "Without a fit, since", lambda r: r.row.no_fit),
        ),
        see="An empty edge is one that the data do not give.",
        folded=True,
    )
    return Section(key="ranking", title="The ranking", blocks=(ranking, fits))


def _edges(
    key: str, title: str, of: Callable[[Ranked], Interval | None], kind: str
) -> tuple[ColumnOf[Ranked], ...]:
    return (
        col(f"{key}_low", f"{title}, lower edge", lambda r: (i := of(r)) and i.low, kind),
        col(key, title, lambda r: (i := of(r)) and i.estimate, kind),
        col(f"{key}_high", f"{title}, upper edge", lambda r: (i := of(r)) and i.high, kind),
    )


def _without_hours(rows: list[Ranked]) -> tuple[ColumnOf[Ranked], ...]:
    """Return the column of failures that no life counts; none where all families count all."""
    if not any(r.row.n_left_out for r in rows):
        return ()
    return (col("left_out", "Failures left out", lambda r: r.row.n_left_out, "count"),)


def _with_left_out(rows: list[Ranked]) -> tuple[ColumnOf[Ranked], ...]:
    if not any(r.row.n_left_out for r in rows):
        return ()
    return (
        col(
            "at_claim_with_left_out",
            "R at claim with failures left out, lower edge",
            lambda r: (i := r.row.at_claim_with_left_out) and i.low,
            "percent",
        ),
    )


def _called(r: Ranked) -> str:
    if r.q_worse is None:
        return "cannot be compared"
    if r.worse and r.worse_at_age:
        return "worse, also at equal age"
    if r.worse:
        return "worse per hour, not shown at equal age"
    return "worse at equal age" if r.worse_at_age else "not called"


def _years_table(p: Portfolio) -> Table:
    return table_of(
        [(r, y) for r in p.ranked if (y := r.row.year) is not None],
        key="years",
        title="The last year beside the year before",
        columns=(
            col("family", "Family", lambda x: x[0].row.family),
            col("failures", "Failures, last year", lambda x: x[1].failed, "count"),
            col("hours", "Hours, last year", lambda x: x[1].hours, "hours"),
            col("failures_before", "Failures, year before", lambda x: x[1].failed_before, "count"),
            col("hours_before", "Hours, year before", lambda x: x[1].hours_before, "hours"),
            col("ratio_low", "Ratio of rates, lower limit", lambda x: x[1].ratio_low, "number"),
            col(
                "ratio",
                "Ratio of rates",
                lambda x: None if x[1].ratio == math.inf else x[1].ratio,
                "number",
            ),
            col("ratio_high", "Ratio of rates, upper limit", lambda x: x[1].ratio_high, "number"),
            col("p_worse", "Chance if nothing changed", lambda x: x[1].p_worse, "number"),
            col("q_worse", "Share of false alarms", lambda x: x[0].q_worse, "number"),
            col("p_worse_at_age", "Chance, at equal age", lambda x: x[1].p_worse_at_age, "number"),
            col(
                "q_worse_at_age",
                "Share of false alarms, at equal age",
                lambda x: x[0].q_worse_at_age,
                "number",
            ),
            col(
                "p_risen",
                "Chance, against all earlier years at equal age",
                lambda x: x[1].p_risen,
                "number",
            ),
            col(
                "q_risen",
                "Share of false alarms, against all earlier years",
                lambda x: x[0].q_risen,
                "number",
            ),
            col("undated", "Lives without dates", lambda x: x[1].n_undated, "count"),
        ),
        see="The limits of each ratio are exact and for that family alone; the shares of false "
        "alarms take into account that many families were asked.",
    )


def _years(p: Portfolio) -> Section | None:
    some = [r for r in p.ranked if r.row.year is not None]
    if not some:
        return None
    level = next(r.row.year.level for r in some if r.row.year is not None)
    blocks: tuple[Block, ...] = (
        say(
            f"A family is called worse when its share of false alarms is {100 * p.share:g} % or "
            "less. Failures reported late make the last year look better than it was."
        ),
        say(
            "A fleet that grows older fails more often per hour without being worse. At equal age "
            "each year's failures are set against those that the fit expects of the ages flown.",
        ),
        _years_table(p),
        Explain(
            term="Share of false alarms",
            text="If every family with this value or a smaller one is called worse, on average at "
            "most this share of those calls is wrong (Benjamini & Hochberg 1995).",
        ),
        Explain(
            term="Chance if nothing changed",
            text="Of all failures of both years, the chance that so many or more fall into the "
            "last one when both years have the same rate; exact for any count (Przyborowski & "
            f"Wilenski 1940). Limits of the ratio are two-sided {100 * level:g} %.",
        ),
    )
    return Section(key="years", title="Worse than the year before?", blocks=blocks)


def _without_answer(p: Portfolio) -> Section | None:
    lost = p.without_answer
    if not lost:
        return None
    table = table_of(
        lost,
        key="without-answer",
        title="Families without an answer",
        columns=(
            col("family", "Family", lambda r: r.family),
            col("state", "State", lambda r: r.state),
            col("why", "Why", lambda r: r.message),
        ),
        see=(
            "Stopped: by its records or its study file, which need correcting. Failed: by the "
            "program or the machine; run again, and report what stays."
        ),
    )
    text = "These families are in no figure above. Nothing is said of them, good or bad."
    return Section(
        key="without-answer",
        title="Without an answer",
        blocks=(
            say(text, "missing"),
            table,
        ),
    )


def _how(p: Portfolio) -> Section:
    rows = [r.row for r in p.ranked]
    lost = sum(not r.done for r in rows)
    n_read = sum(r.n_read for r in rows)
    account = [
        ("Families", f"{len(rows):,}: {len(rows) - lost:,} answered, {lost:,} without an answer"),
        (
            "Rows of answered families",
            f"{n_read:,} read = {sum(r.n_used for r in rows):,} used + "
            f"{sum(r.n_set_aside for r in rows):,} set aside",
        ),
    ]
    if p.n_read:
        rest = p.n_read - p.n_unnamed - n_read
        account.append(
            (
                "Rows of the table",
                f"{p.n_read:,} read = {n_read:,} of answered families + {rest:,} "
                f"of families without an answer + {p.n_unnamed:,} that name no family",
            )
        )
    account.append(("Share of false alarms accepted", f"{100 * p.share:g} %"))
    inputs = table_of(
        sorted(rows, key=lambda r: r.family),
        key="inputs",
        title="What each family came from",
        columns=(
            col("family", "Family", lambda r: r.family),
            col("read", "Rows read", lambda r: r.n_read, "count"),
            col("used", "Used", lambda r: r.n_used, "count"),
            col("set_aside", "Set aside", lambda r: r.n_set_aside, "count"),
            col("digest", "Digest of rows and settings", lambda r: r.digest),
        ),
        folded=True,
    )
    return Section(
        key="account",
        title="Account and inputs",
        blocks=(
            facts("account", "Where every row went", account),
            inputs,
        ),
    )


def _cautions(p: Portfolio) -> tuple[Caution, ...]:
    out = []
    undated = sum(r.row.year.n_undated for r in p.ranked if r.row.year is not None)
    if undated:
        out.append(caution("undated-lives", value=count(undated, "life", "lives")))
    if p.n_unnamed:
        out.append(caution("rows-without-family", value=count(p.n_unnamed, "row")))
    if p.without_answer:
        out.append(
            caution(
                "families-without-answer",
                value=count(len(p.without_answer), "family", "families"),
            )
        )
    return tuple(out)


def _figure(p: Portfolio) -> Figure | None:
    """Return the ratios of rates of the families most likely to be worse."""
    some = [
        (r, y)
        for r in p.ranked
        if (y := r.row.year) is not None and y.p_worse is not None and y.ratio_low is not None
    ]
    if not some:
        return None
    some.sort(key=lambda x: (x[1].p_worse or 0.0, x[0].row.slug))
    some = some[:MOST_DRAWN]
    finite = [y.ratio for _, y in some if y.ratio is not None and 0 < y.ratio < math.inf]
    top = max([8.0, *(4.0 * v for v in finite)])
    floor = min([1 / 8, *(0.25 * v for v in finite)])

    def clip(v: float | None, other: float) -> float:
        return min(max(other if v is None else v, floor), top)

    names = [r.row.family for r, _ in some]
    limits = f"exact limits, two-sided {100 * some[0][1].level:g} %"
    bars = [(clip(y.ratio_low, floor), clip(y.ratio_high, top), i) for i, (_, y) in enumerate(some)]
    layers = [bars_at("band", limits, bars, names)]
    for role, label, worse in (
        ("failure", "called worse", True),
        ("estimate", "not called", False),
    ):
        pick = [(clip(y.ratio, top), i) for i, (r, y) in enumerate(some) if r.worse == worse]
        if pick:
            layers.append(points_at(role, label, pick))
    layers.append(mark_at("reference", "as the year before", 1.0))
    return Figure(
        key="worse",
        title="Rate of the last year over that of the year before",
        see="A bar wholly right of 1 would be worse if it were the only family asked; a family is "
        "called only where that holds among all that were asked.",
        alt="Horizontal bars with the ratio of failure rates and its limits, by family.",
        panels=(
            Panel(
                x=Axis(label="ratio of failure rates", scale="log", low=floor, high=top),
                y=Axis(label="", scale="category", categories=tuple(n[:28] for n in names)),
                layers=tuple(layers),
            ),
        ),
        height=0.3 * len(some) + 1.4,
    )
