"""Sections on returns that were merged, clocks at both ends, earlier dates, hours beside years."""

from __future__ import annotations

import numpy as np

from fleetstats.advice.advice import VERDICTS
from fleetstats.advice.results import Results
from fleetstats.chapters.clocks_and_dates.values import CalendarView, ClockRange, LookingBack, Rerun
from fleetstats.document.blocks import METERS, say
from fleetstats.document.document import Axis, Block, Column, Figure, Layer, Panel, Section, Table
from fleetstats.document.glossary import explain
from fleetstats.document.table_of import col, table_of
from fleetstats.document.words import say_range
from fleetstats.vocabulary.wording import count

ROWS_SHOWN = 200


def compose_returns(results: Results) -> Section | None:
    """Return what several returns told of the same engines; None where none did."""
    m = results.records.merged
    if m is None or not (m.trace or m.conflicts or m.pairs):
        return None
    blocks: list[Block] = [
        say(
            f"Reports merged: {sum(1 for t in m.trace if t.merged):,}. Failures of any kind told: "
            f"{m.n_events_before:,}; different ones after merging: {m.n_events_after:,}. Every "
            "report merged into another is listed, and its rows stay in the account above."
        )
    ]
    if m.conflicts:
        open_ones = sum(1 for c in m.conflicts if not c.decided)
        text = f"{count(len(m.conflicts), 'pair')} of reports cannot both be right"
        text += (
            f"; {open_ones:,} are not decided in the study file."
            if open_ones
            else ("; each is decided in the study file.")
        )
        blocks += [say(text, "caution" if open_ones else "fact"), _conflicts(results)]
    if m.pairs:
        blocks.append(_pairs(results))
    if m.trace:
        blocks.append(_trace(results))
    return Section(key="returns", title="Returns that tell of one engine", blocks=tuple(blocks))


def _conflicts(results: Results) -> Table:
    m = results.records.merged
    return table_of(
        [(c, p) for c in (m.conflicts if m else ()) for p in c.points][:ROWS_SHOWN],
        key="merge-conflicts",
        title="Reports that disagree, side by side",
        columns=(
            col("engine", "Engine", lambda x: x[0].engine),
            col("point", "Point", lambda x: x[1].field),
            col("first", "One report", lambda x: x[0].first),
            col("first_says", "says", lambda x: x[1].first),
            col("second", "Other report", lambda x: x[0].second),
            col("second_says", "says", lambda x: x[1].second),
            col("proposed", "Proposed", lambda x: x[1].proposed),
            col("decided", "Decided", lambda x: x[0].decided or "not decided"),
            col("reason", "Reason", lambda x: x[0].reason),
        ),
        see="The proposal is the cautious reading: the failure stands, fewer hours count.",
    )


def _pairs(results: Results) -> Table:
    m = results.records.merged
    return table_of(
        (m.pairs if m else ())[:ROWS_SHOWN],
        key="merge-pairs",
        title="Reports that may tell of one event",
        columns=(
            col("engine", "Engine", lambda p: p.engine),
            col("other_engine", "Other engine", lambda p: p.other_engine),
            col("first", "One report", lambda p: p.first),
            col("second", "Other report", lambda p: p.second),
            col("bits", "Agreement (bits)", lambda p: round(p.bits, 1), "number"),
            col("taken", "Taken as", lambda p: "one event" if p.one_event else "left as two"),
        ),
        see="Each bit doubles the odds that the two are one: serial, hours, date, cause and build "
        "that agree count for it, the more the rarer such an agreement is by chance.",
    )


def _trace(results: Results) -> Table:
    m = results.records.merged
    return table_of(
        (m.trace if m else ())[:ROWS_SHOWN],
        key="merge-trace",
        title="Reports merged",
        columns=(
            col("engine", "Engine", lambda t: t.engine),
            col("kept", "Report kept", lambda t: t.kept),
            col("merged", "Report merged into it", lambda t: t.merged),
            col("taken", "What was taken", lambda t: "; ".join(t.taken) or "nothing new"),
        ),
        folded=True,
    )


def _runs(key: str, title: str, runs: tuple[Rerun, ...], see: str) -> Table:
    return table_of(
        runs,
        key=key,
        title=title,
        columns=(
            col("run", "Records", lambda r: r.name),
            col("lives", "Lives", lambda r: r.n_lives, "count"),
            col("failed", "Failures in question", lambda r: r.n_failed, "count"),
            col("exposure_h", "Hours at risk", lambda r: r.exposure_h, "hours"),
            col("supported_h", "Evidence to", lambda r: r.supported_h, "hours"),
            col(
                "life",
                f"{runs[0].life.name}, band",
                lambda r: say_range(r.life, supported_to_h=r.supported_h),
            ),
            col(
                "verdict", "Verdict on the claim", lambda r: VERDICTS.get(r.verdict, "none claimed")
            ),
        ),
        see=see,
    )


def compose_clock_range(clocks: ClockRange) -> Section:
    """Return the answers at both ends of the clock factors."""
    blocks: list[Block] = [
        say(clocks.sentence, "fact" if clocks.same_verdict else "caution"),
        _runs(
            "clock-range",
            "Answers at both ends of the clock factors",
            clocks.runs,
            "All factors are taken at one end together: the worst that their ranges allow.",
        ),
    ]
    if clocks.factors:
        blocks.append(
            table_of(
                clocks.factors,
                key="own-factors",
                title="Engines with a factor of their own",
                columns=(
                    col("engine", "Engine", lambda f: f.engine),
                    col("meter", "Meter", lambda f: METERS.get(f.meter, f.meter)),
                    col("factor", "Factor", lambda f: f.factor, "number"),
                    col("low", "Low", lambda f: f.low, "number"),
                    col("high", "High", lambda f: f.high, "number"),
                    col("n", "Double readings", lambda f: f.n, "count"),
                ),
                see="Two meters read on the same days show what one is worth in the other.",
            )
        )
    return Section(key="clock-range", title="What the clocks are worth", blocks=tuple(blocks))


def compose_looking_back(back: LookingBack) -> Section:
    """Return what the records would have said at earlier dates."""
    blocks: list[Block] = [say(back.sentence)]
    if back.n_undated:
        blocks.append(
            say(
                f"{count(back.n_undated, 'life', 'lives')} without dates are left out of the "
                "earlier lines.",
                "missing",
            )
        )
    blocks.append(
        _runs(
            "looking-back",
            "The same question at earlier cut-off dates",
            back.runs,
            "A verdict that turns within a year hangs on the date to which records were drawn.",
        )
    )
    return Section(
        key="looking-back", title="Would earlier records have said the same?", blocks=tuple(blocks)
    )


def calendar_section(results: Results) -> Section:
    """Return hours beside years, or that the records have too few dates for it."""
    view = results.chapters.get("calendar")
    return (
        compose_calendar(view) if isinstance(view, CalendarView) else compose_no_calendar(results)
    )


def compose_calendar(view: CalendarView) -> Section:
    """Return hours beside years: each life, and exposure by both ages."""
    undated = (
        [
            say(
                f"{count(view.n_undated, 'life', 'lives')} without dates are not in this view.",
                "missing",
            )
        ]
        if view.n_undated
        else []
    )
    return Section(
        key="calendar",
        title="Hours and years",
        blocks=(
            say(view.sentence),
            explain("rank-correlation"),
            *undated,
            _scatter(view),
            _cross(view),
        ),
    )


def compose_no_calendar(results: Results) -> Section:
    """Return what is missing where too few lives have dates: the page is never left out."""
    rows = results.built.rows
    dated = sum(r.count for r in rows if r.in_service is not None and r.last_date is not None)
    total = int(results.spells.weight.sum())
    few = f"only {dated:,}" if dated else "none" if rows else "too few"  # no row of a long table
    return Section(
        key="calendar",
        title="Hours and years",
        blocks=(
            say(
                f"Hours do not tell how old an engine is, and {few} of {total:,} lives "
                f"{'has' if dated == 1 else 'have'} the dates to say it. Corrosion, hardened seals "
                "and long idle times come with years; nothing in this report answers for them. The "
                "date of entry into service and that of the last reading, for each engine, would "
                "show it.",
                "missing",
            ),
        ),
    )


def _scatter(view: CalendarView) -> Figure:
    layers = tuple(
        Layer(kind="points", role=role, label=label, x=view.hours[which], y=view.years[which])
        for role, label, which in (
            ("censored", "no failure in question", ~view.failed),
            ("failure", "failed", view.failed),
        )
        if np.any(which)
    )
    return Figure(
        key="hours-years",
        title="Each life at its end, by hours and by years",
        see="Engines high on the left are old and little used: hours alone say little of them.",
        alt="Points of each life's hours and years at its end, failures marked.",
        panels=(
            Panel(
                x=Axis(label="Hours", unit="h", low=0.0),
                y=Axis(label="Age", unit="years", low=0.0),
                layers=layers,
            ),
        ),
    )


def _cross(view: CalendarView) -> Table:
    years = [
        f"{a:g} to {b:g} years" for a, b in zip(view.year_edges, view.year_edges[1:], strict=False)
    ]
    rows = []
    for i, (a, b) in enumerate(zip(view.hour_edges, view.hour_edges[1:], strict=False)):
        cells = [
            f"{view.failures[i, j]:g} in {view.exposure_h[i, j]:,.0f} h"
            if view.exposure_h[i, j] > 0
            else "none seen"
            for j in range(len(years))
        ]
        rows.append((f"{a:,.0f} to {b:,.0f} h", *cells))
    return Table(
        key="hours-by-years",
        title="Failures and hours at risk by both ages",
        columns=(
            Column(key="hours", title="Hours"),
            *(Column(key=f"years_{j}", title=y) for j, y in enumerate(years)),
        ),
        rows=tuple(rows),
        see="Where nothing was seen, these records say nothing, whatever a curve over hours shows.",
    )
