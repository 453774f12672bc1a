"""The check interval: what slips through, how long it may be, what it costs, what it misses."""

from __future__ import annotations

import numpy as np

from fleetstats.chapters.checks.values import CheckInterval, WarningLaw
from fleetstats.chapters.checks.words import LAW_WORDS
from fleetstats.core.units import text_hours, text_percent, text_stated
from fleetstats.core.value import Array
from fleetstats.document.caption_words import say_slip
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
from fleetstats.document.layers import mark_at
from fleetstats.document.table_of import ColumnOf, col, table_of
from fleetstats.vocabulary.wording import count

_TONE = {
    "supported": "answer",
    "contradicted": "answer",
    "not-yet-shown": "answer",
    "no-target": "missing",
    "not-enough-evidence": "missing",
}


def compose_check_interval(c: CheckInterval) -> Section:
    """Return the section on the check interval."""
    blocks: list[Block] = [Statement(text=c.sentences[0], tone=_TONE[c.verdict])]
    blocks += [Statement(text=s) for s in c.sentences[1:]]
    blocks.append(
        Explain(
            term="warning time",
            text="The hours between when a fault could first be seen at a check and when it would "
            "stop the engine. A check finds the fault only if it falls within them.",
        )
    )
    if c.slip is not None:
        blocks += [_figure(c), _slip_table(c)]
        if c.longest:
            blocks.append(_longest_table(c))
        if c.laws:
            blocks.append(_laws_table(c))
    if c.modes:
        blocks.append(_modes_table(c))
    # modes without warning are named above, each with what the records hold of it
    told = any(s.startswith("Not covered: ") for s in c.sentences)
    told = told and all(m.detectable != "never found" or not m.n_failed for m in c.modes)
    blocks += [
        Statement(text=x.text, tone="caution")
        for x in c.cautions
        if not (told and x.code == "no-warning-mode")
    ]
    blocks.append(Statement(text=_assumed(c), tone="assumption"))
    return Section(key="check-interval", title="Are the checks frequent enough?",
                   blocks=tuple(blocks))  # fmt: skip


def _assumed(c: CheckInterval) -> str:
    return (
        f"{count(c.n_lives, 'stretch', 'stretches')} between repairs, {text_hours(c.exposure_h)}, "
        f"{count(c.n_found, 'fault')} found at checks, {c.n_failed} failed first. A mended fault "
        "leaves the engine as free of faults as before it arose, each check finds a fault with the "
        "same chance, and one fault is there at a time. The limits are from the likelihood of the "
        "actual ages of checks, findings and failures, cut at exact binomial limits where few "
        "failed; over the range of detection the widest is shown."
    )


def _panel(
    c: CheckInterval,
    label: str,
    unit: str,
    curves: tuple[Array, Array, Array],
    title: str,
    marks: tuple[Layer, ...] = (),
) -> Panel:
    middle, low, high = curves
    layers = [
        Layer(
            kind="ribbon",
            role="band",
            label=f"{100 * c.level:g} % limits",
            x=c.intervals_h,
            low=low,
            high=high,
        ),
        Layer(kind="line", role="estimate", label="best estimate", x=c.intervals_h, y=middle),
        mark_at("claim", f"each {c.usual_h:g} h", c.usual_h),
        *marks,
    ]
    return Panel(
        x=Axis(label="Hours between checks", unit="h", low=0.0),
        y=Axis(label=label, unit=unit, low=0.0),
        layers=tuple(layers),
        title=title,
    )


def _panels(c: CheckInterval) -> list[Panel]:
    """Return slip, failures and, where costs are stated, cost against hours between checks."""
    assert c.slip is not None
    assert c.slip_low is not None
    assert c.slip_high is not None
    assert c.per_1000_h is not None
    assert c.per_1000_h_low is not None
    assert c.per_1000_h_high is not None
    targets = tuple(
        Layer(
            kind="hline",
            role="target",
            label=f"accepted {text_stated(x.target)}",
            y=np.array([100.0 * x.target]),
        )
        for x in c.longest
        if x.stated and x.what.startswith("share")
    )
    panels = [
        _panel(
            c,
            "Faults that fail first",
            "%",
            (100 * c.slip, 100 * c.slip_low, 100 * c.slip_high),
            "Slip through the checks",
            targets,
        ),
        _panel(
            c,
            "Failures per 1,000 h",
            "",
            (c.per_1000_h, c.per_1000_h_low, c.per_1000_h_high),
            "Failures before detection",
        ),
    ]
    if c.cost_per_h is not None and c.cost_low is not None and c.cost_high is not None:
        panels.append(
            _panel(
                c,
                "Cost per engine hour",
                "",
                (c.cost_per_h, c.cost_low, c.cost_high),
                "Checks, repairs and failures",
            )
        )
    return panels


def _figure(c: CheckInterval) -> Figure:
    panels = _panels(c)
    see = (
        "The longer the interval, the more faults fail before a check finds them; the band is wide "
        "where few have failed."
    )
    if c.cheapest_h is not None:
        a, b = c.cheapest_h[1:]
        see += (
            f" Cost is within 5 % of its least from {text_hours(a)} to {text_hours(b)}; cheapest "
            "is not least risk."
        )
    return Figure(
        key="check-interval",
        title="What the interval between checks does",
        see=see,
        alt="Curves against hours between checks: share of faults that fail before being found, "
        "failures per 1,000 h and cost per hour where costs are stated, each with its band.",
        panels=tuple(panels),
        columns=min(3, len(panels)),
    )


def _slip_table(c: CheckInterval) -> Table:
    assert c.table_h is not None
    assert c.slip_by_detection is not None
    assert c.intervals_h is not None
    assert c.slip_low is not None
    assert c.slip_high is not None
    assert c.per_1000_h is not None
    hours = c.table_h
    accepted = tuple(x.target for x in c.longest if x.stated and x.what.startswith("share"))
    low = np.interp(hours, c.intervals_h, c.slip_low)
    high = np.interp(hours, c.intervals_h, c.slip_high)
    rate = np.interp(hours, c.intervals_h, c.per_1000_h)
    names = [f"detection {text_percent(d)}" for d in c.detection]
    return Table(
        key="check-slip",
        title="Share of faults that fail before a check finds them",
        columns=(
            Column(key="interval", title="Hours between checks", kind="hours"),
            *(
                Column(key=f"detection_{i + 1}", title=n, kind="percent", beside=accepted)
                for i, n in enumerate(names)
            ),
            Column(key="low", title="Low", kind="percent", edge="low", beside=accepted),
            Column(key="high", title="High", kind="percent", edge="high", beside=accepted),
            Column(key="rate", title="Failures per 1,000 h", kind="number"),
        ),
        rows=tuple(
            (
                float(t),
                *(float(x) for x in c.slip_by_detection[:, i]),
                float(low[i]),
                float(high[i]),
                float(rate[i]),
            )
            for i, t in enumerate(hours)
        ),
        see=f"{say_slip(c.slip_by_detection)} "
        f"Low and high are the widest {100 * c.level:g} % limits over all three.",
    )


def _longest_table(c: CheckInterval) -> Table:
    usual = (c.usual_h,)
    return table_of(
        c.longest,
        key="check-longest",
        title="Longest interval for a target",
        columns=(
            col("what", "Target for", lambda x: x.what),
            col("target", "At most", lambda x: x.target, "percent"),
            col("stated", "Stated by the study", lambda x: "yes" if x.stated else "no"),
            col("careful", "Careful edge", lambda x: x.hours.low, "hours", beside=usual),
            col("estimate", "Estimate", lambda x: x.hours.estimate, "hours", beside=usual),
            col("optimistic", "Optimistic edge", lambda x: x.hours.high, "hours", beside=usual),
        ),
        see=(
            "An empty cell means that no interval searched passes the target. Targets that the "
            "study does not state are a table to choose from, not advice."
        ),
    )


def _law_columns(i: int, hours: float) -> list[ColumnOf[WarningLaw]]:
    """Return share, low and high of each law at its i-th interval."""

    def estimate(x: WarningLaw) -> float:
        return float(x.slip[i])

    def low(x: WarningLaw) -> float | None:
        return None if x.slip_low is None else float(x.slip_low[i])

    def high(x: WarningLaw) -> float | None:
        return None if x.slip_high is None else float(x.slip_high[i])

    return [
        col(f"share_{i + 1}", f"Share each {text_hours(hours)}", estimate, "percent"),
        col(f"low_{i + 1}", "Low", low, "percent", edge="low"),
        col(f"high_{i + 1}", "High", high, "percent", edge="high"),
    ]


def _laws_table(c: CheckInterval) -> Table:
    columns: list[ColumnOf[WarningLaw]] = [
        col("law", "Law of the warning time", lambda x: LAW_WORDS[x.law]),
        col("weight", "Weight", lambda x: x.weight, "percent"),
    ]
    for i, t in enumerate(c.laws[0].hours):
        columns += _law_columns(i, t)
    return table_of(
        c.laws,
        key="check-laws",
        title="What each law of the warning time says",
        columns=tuple(columns),
        see=(
            "The share of faults that fail first, at half the interval judged, at that and at "
            "double. An empty cell means that the records rule the law out. The share that no "
            "check sees is hardly told by such records; the share that failed bounds it from "
            "above."
        ),
        folded=True,
    )


def _modes_table(c: CheckInterval) -> Table:
    return table_of(
        c.modes,
        key="check-modes",
        title="Which failure modes the checks can see",
        columns=(
            col("mode", "Mode", lambda m: m.mode),
            col("detectable", "Seen by checks", lambda m: m.detectable),
            col("found", "Found at a check", lambda m: m.n_found, "count"),
            col("failed", "Failed first", lambda m: m.n_failed, "count"),
            col(
                "slip",
                f"Slip at {c.usual_h:g} h",
                lambda m: m.slip and m.slip.estimate,
                "percent",
            ),
            col("low", "Low", lambda m: m.slip and m.slip.low, "percent", edge="low"),
            col("high", "High", lambda m: m.slip and m.slip.high, "percent", edge="high"),
        ),
        see='A mode that says "no" or "never found" is not covered by any check interval.',
    )
