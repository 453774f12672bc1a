"""The section on changes: failures against those due over the years, and every comparison."""

from __future__ import annotations

import numpy as np

from fleetstats.chapters.change.values import Changed, ChangeLine
from fleetstats.chapters.change.words import month_words, power_words, who_words
from fleetstats.document.blocks import say
from fleetstats.document.document import Axis, Block, Explain, Figure, Layer, Panel, Section, Table
from fleetstats.document.table_of import col, table_of
from fleetstats.records.clocks.usage import calendar_year
from fleetstats.vocabulary.limits import HONEST_P
from fleetstats.vocabulary.wording import stated


def compose_change(changed: Changed) -> Section:
    """Return the section on changes over the calendar."""
    blocks: list[Block] = [
        say(changed.sentence, "caution" if changed.flagged else "answer"),
        Explain(
            term="failures due",
            text="Where failures of these ages would have fallen in time, had the rate at each age "
            "stayed the same: an engine is as likely to fail at 800 h in one year as in another.",
        ),
    ]
    if changed.lines:
        blocks.append(_figure(changed))
        blocks.append(_table(changed))
    lead = changed.lines[0] if changed.lines else None
    if lead is not None and changed.flagged:
        blocks += [say(power_words(p)) for p in lead.powers]
    if changed.n_carried:
        blocks.append(
            say(
                f"{changed.n_carried:,} running engines are taken to have flown on at their own "
                "use since their last reading: a failure is told at once, hours with the next "
                "return."
            )
        )
    return Section(
        key="change",
        title="Has the failure rate changed over the years?",
        blocks=tuple(blocks),
    )


def _figure(changed: Changed) -> Figure:
    line = changed.leads
    assert line is not None
    who = f"Failures{who_words(line.by, line.name)}"
    marks: tuple[Layer, ...] = ()
    if line.flagged:
        marks = (
            Layer(
                kind="vline",
                role="target",
                label=f"since {month_words(line.since)}",
                x=np.array([calendar_year(line.since)]),
            ),
        )
    return Figure(
        key="change",
        title=f"{who} so far, and those due at equal ages",
        see="Where the steps climb steeper than the line, failures come more often than the "
        "engines' ages explain; both end at the same number.",
        alt=f"A stepped line of failures that ends at {changed.seen[-1]:g} and a smooth line of "
        f"those due at equal ages, from {month_words(changed.first_day)} to "
        f"{month_words(changed.last_day)}.",
        panels=(
            Panel(
                x=Axis(label="Calendar", unit="year"),
                y=Axis(label="Failures so far", low=0.0),
                layers=(
                    Layer(kind="line", role="reference", label="due at equal ages",
                          x=changed.months, y=changed.due),
                    Layer(kind="step", role="failure", label="seen",
                          x=changed.months, y=changed.seen),
                    *marks,
                ),
            ),
        ),
    )  # fmt: skip


def _name(line: ChangeLine) -> str:
    if line.by == "all":
        return "all in question"
    text = f"{line.by} {line.name}"
    return text if line.asked else f"{text} (not in question)"


def _table(changed: Changed) -> Table:
    level = f"{100 * changed.level:g} %"
    return table_of(
        changed.lines,
        key="changes",
        title="Each comparison, with its most likely date of a change",
        columns=(
            col("subject", "Failures", _name),
            col("n", "Number", lambda x: x.change.n, "count"),
            col("date", "Likeliest date", lambda x: month_words(x.change.day)),
            col("date_low", f"Earliest ({level})", lambda x: month_words(x.change.day_low)),
            col("date_high", f"Latest ({level})", lambda x: month_words(x.change.day_high)),
            col("before", "Before", lambda x: x.change.n_before, "count"),
            col("after", "Since", lambda x: x.change.n_after, "count"),
            col("due", "Due since", lambda x: x.change.expected_after, "number"),
            col("factor", "Rate since over before", lambda x: x.change.factor, "number",
                beside=(1.0,)),
            col("low", f"Low ({level})", lambda x: x.change.low, "number", beside=(1.0,)),
            col("high", f"High ({level})", lambda x: x.change.high, "number", beside=(1.0,)),
            col("chance", "Chance of as much", lambda x: x.p_held, "percent",
                beside=(HONEST_P,)),
            col("doubling", "A doubling a year ago was seen with",
                lambda x: x.powers[0].chance, "percent"),
        ),
        see="The chance is that of so great a difference at any date, if nothing changed, held "
        f"over all comparisons of the table; below {stated(HONEST_P)} a change is shown. Limits of "
        "the rate are the widest over the dates that may be right.",
    )  # fmt: skip
