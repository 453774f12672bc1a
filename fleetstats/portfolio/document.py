"""A portfolio's report: the ranking, the last year beside the year before, what has no answer."""

from __future__ import annotations

import hashlib
import math

import numpy as np

from fleetstats import __version__
from fleetstats.advice.advice import VERDICT_WORDS
from fleetstats.bands.interval import Interval
from fleetstats.core.provenance import Provenance, installed_versions
from fleetstats.document.blocks import facts, say
from fleetstats.document.document import (
    Axis,
    Block,
    Column,
    Document,
    Explain,
    Figure,
    Layer,
    Panel,
    Section,
    Table,
)
from fleetstats.portfolio.ranking import Portfolio, Ranked
from fleetstats.records.split_families import FamilyList
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import count

MOST_DRAWN = 24
"""Families in the picture; the table has all."""

WORDS = VERDICT_WORDS | {"": "none claimed"}

OVERHAUL = {
    "answered": "advised",
    "evidence-limit": "none: wear-out not shown; the targets hold to 'plan from'",
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
    ranking = Table(
        key="ranking",
        title="All families, ranked",
        columns=(
            Column(key="rank", title="Rank", kind="count"),
            Column(key="family", title="Family"),
            Column(key="lives", title="Lives", kind="count"),
            Column(key="failures", title="Failures", kind="count"),
            Column(key="worse", title="Worse than the year before"),
            Column(key="claimed_h", title="Claimed", kind="hours"),
            Column(key="verdict", title="Claim"),
            Column(key="overhaul", title="Overhaul age"),
            Column(key="plan_from_h", title="Plan from", kind="hours"),
            Column(key="expect_at_h", title="Expect at", kind="hours"),
            Column(key="not_beyond_h", title="Not beyond", kind="hours"),
            Column(key="evidence_ends_h", title="Evidence ends", kind="hours"),
            Column(key="page", title="Page"),
        ),
        rows=tuple(
            (
                r.rank, r.row.family, r.row.n_lives, r.row.n_failed, _called(r), r.row.claimed_h,
                WORDS[r.row.verdict], OVERHAUL[r.row.band_state], r.row.plan_from_h,
                r.row.expect_at_h, r.row.not_beyond_h, r.row.supported_h,
                f"pages/{r.row.slug}" if r.row.slug in pages else "",
            )
            for r in done
        ),
        see="First the families called worse than the year before, then by how far the claim is "
        "from shown, then by the earliest plan-from.",
    )  # fmt: skip
    fits = Table(
        key="fits",
        title="What each ranking rests on",
        columns=(
            Column(key="family", title="Family"),
            Column(key="exposure_h", title="Exposure", kind="hours"),
            Column(key="oldest_h", title="Oldest", kind="hours"),
            *(c for key, title, kind in (("shape", "Shape", "number"),
                                         ("life", "Target life", "hours"),
                                         ("at_claim", "R at claim", "percent"))
              for c in _columns(key, title, kind)),
            Column(key="no_fit", title="Without a fit, since"),
        ),
        rows=tuple(
            (
                r.row.family, r.row.exposure_h, r.row.oldest_h, *_edges(r.row.shape),
                *_edges(r.row.life), *_edges(r.row.at_claim), r.row.no_fit,
            )
            for r in done
        ),
        see="An empty edge is one that the data do not give.",
        folded=True,
    )  # fmt: skip
    return Section(key="ranking", title="The ranking", blocks=(ranking, fits))


def _columns(key: str, title: str, kind: str) -> tuple[Column, Column, Column]:
    return (
        Column(key=f"{key}_low", title=f"{title}, lower edge", kind=kind),
        Column(key=key, title=title, kind=kind),
        Column(key=f"{key}_high", title=f"{title}, upper edge", kind=kind),
    )


def _edges(interval: Interval | None) -> tuple[float | None, float | None, float | None]:
    if interval is None:
        return None, None, None
    return interval.low, interval.estimate, interval.high


def _called(r: Ranked) -> str:
    if r.q_worse is None:
        return "cannot be compared"
    if r.worse and r.worse_at_age:
        return "worse, also at equal age"
    if r.worse:
        return "worse per hour, not shown at equal age"
    return "worse at equal age" if r.worse_at_age else "not called"


def _years_table(some: list[Ranked]) -> Table:
    columns = (
        Column(key="family", title="Family"),
        Column(key="failures", title="Failures, last year", kind="count"),
        Column(key="hours", title="Hours, last year", kind="hours"),
        Column(key="failures_before", title="Failures, year before", kind="count"),
        Column(key="hours_before", title="Hours, year before", kind="hours"),
        Column(key="ratio_low", title="Ratio of rates, lower limit", kind="number"),
        Column(key="ratio", title="Ratio of rates", kind="number"),
        Column(key="ratio_high", title="Ratio of rates, upper limit", kind="number"),
        Column(key="p_worse", title="Chance if nothing changed", kind="number"),
        Column(key="q_worse", title="Share of false alarms", kind="number"),
        Column(key="p_worse_at_age", title="Chance, at equal age", kind="number"),
        Column(key="q_worse_at_age", title="Share of false alarms, at equal age", kind="number"),
        Column(key="undated", title="Lives without dates", kind="count"),
    )
    rows = []
    for r in some:
        y = r.row.year
        assert y is not None
        rows.append(
            (
                r.row.family, y.failed, y.hours, y.failed_before, y.hours_before, y.ratio_low,
                None if y.ratio == math.inf else y.ratio, y.ratio_high, y.p_worse, r.q_worse,
                y.p_worse_at_age, r.q_worse_at_age, y.n_undated,
            )
        )  # fmt: skip
    return Table(
        key="years",
        title="The last year beside the year before",
        columns=columns,
        rows=tuple(rows),
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
        _years_table(some),
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
    table = Table(
        key="without-answer",
        title="Families without an answer",
        columns=(
            Column(key="family", title="Family"),
            Column(key="state", title="State"),
            Column(key="why", title="Why"),
        ),
        rows=tuple((r.family, r.state, r.message) for r in lost),
        see="Stopped: by its records or its study file, which need correcting. Failed: by the "
        "program or the machine; run again, and report what stays.",
    )
    text = "These families are in no figure above. Nothing is said of them, good or bad."
    return Section(key="without-answer", title="Without an answer", blocks=(
        say(text, "missing"), table,
    ))  # fmt: skip


def _how(p: Portfolio) -> Section:
    rows = [r.row for r in p.ranked]
    lost = sum(not r.done for r in rows)
    n_read = sum(r.n_read for r in rows)
    account = [
        ("Families", f"{len(rows):,}: {len(rows) - lost:,} answered, {lost:,} without an answer"),
        ("Rows of answered families", f"{n_read:,} read = {sum(r.n_used for r in rows):,} used + "
         f"{sum(r.n_set_aside for r in rows):,} set aside"),
    ]  # fmt: skip
    if p.n_read:
        rest = p.n_read - p.n_unnamed - n_read
        account.append(
            ("Rows of the table", f"{p.n_read:,} read = {n_read:,} of answered families + {rest:,} "
             f"of families without an answer + {p.n_unnamed:,} that name no family")
        )  # fmt: skip
    account.append(("Share of false alarms accepted", f"{100 * p.share:g} %"))
    inputs = Table(
        key="inputs",
        title="What each family came from",
        columns=(
            Column(key="family", title="Family"),
            Column(key="read", title="Rows read", kind="count"),
            Column(key="used", title="Used", kind="count"),
            Column(key="set_aside", title="Set aside", kind="count"),
            Column(key="digest", title="Digest of rows and settings"),
        ),
        rows=tuple(
            (r.family, r.n_read, r.n_used, r.n_set_aside, r.digest)
            for r in sorted(rows, key=lambda r: r.family)
        ),
        folded=True,
    )
    return Section(key="account", title="Account and inputs", blocks=(
        facts("account", "Where every row went", account), inputs,
    ))  # fmt: skip


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
        (r, y) for r in p.ranked
        if (y := r.row.year) is not None and y.p_worse is not None and y.ratio_low is not None
    ]  # fmt: skip
    if not some:
        return None
    some.sort(key=lambda x: (x[1].p_worse or 0.0, x[0].row.slug))
    some = some[:MOST_DRAWN]
    finite = [y.ratio for _, y in some if y.ratio is not None and 0 < y.ratio < math.inf]
    top = max([8.0, *(4.0 * v for v in finite)])
    floor = min([1 / 8, *(0.25 * v for v in finite)])

    def clip(v: float | None, other: float) -> float:
        return min(max(other if v is None else v, floor), top)

    at = np.arange(len(some), dtype=np.float64)
    limits = f"exact limits, two-sided {100 * some[0][1].level:g} %"
    layers = [
        Layer(
            kind="spans", role="band", label=limits,
            x=np.array([clip(y.ratio_low, floor) for _, y in some]),
            x2=np.array([clip(y.ratio_high, top) for _, y in some]),
            y=at,
            names=tuple(r.row.family for r, _ in some),
        )
    ]  # fmt: skip
    for role, label, worse in (
        ("failure", "called worse", True),
        ("estimate", "not called", False),
    ):
        pick = [i for i, (r, _) in enumerate(some) if r.worse == worse]
        if pick:
            layers.append(
                Layer(
                    kind="points", role=role, label=label,
                    x=np.array([clip(some[i][1].ratio, top) for i in pick]), y=at[pick],
                )
            )  # fmt: skip
    layers.append(Layer(kind="vline", role="reference", label="as the year before", x=np.ones(1)))
    return Figure(
        key="worse",
        title="Rate of the last year over that of the year before",
        see="A bar wholly right of 1 would be worse if it were the only family asked; a family is "
        "called only where that holds among all that were asked.",
        alt="Horizontal bars with the ratio of failure rates and its limits, by family.",
        panels=(
            Panel(
                x=Axis(label="ratio of failure rates", scale="log", low=floor, high=top),
                y=Axis(label="", scale="category",
                       categories=tuple(r.row.family[:28] for r, _ in some)),
                layers=tuple(layers),
            ),
        ),
        height=0.3 * len(some) + 1.4,
    )  # fmt: skip
