"""Data and audit: where the rows came from, what became of them, what was odd."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from fleetstats.advice.results import Results
from fleetstats.document.blocks import METERS, say
from fleetstats.document.document import Block, Column, Section, Table
from fleetstats.records.clocks.clocks import stated_factors
from fleetstats.vocabulary.findings import meaning_of
from fleetstats.vocabulary.wording import count

FINDINGS_SHOWN = 300
DONE = {"accept": "used", "set-aside": "set aside", "stop": "stopped the study"}
"""What was done with a finding, in words."""


def compose_data(results: Results) -> Section:
    """Return sources, the account of rows, findings, clocks and the age of readings."""
    a = results.audit
    c = a.counts()
    blocks: list[Block] = [
        say(
            f"{a.n_read:,} rows read = {a.n_used:,} used + {a.n_set_aside:,} set aside"
            + (f"; {no_rows(a.n_blank)}." if a.n_blank else ".")
        ),
        say(results.how_read.sentence),
        say(
            f"The audit found {count(c['error'], 'error')}, {count(c['warning'], 'warning')} and "
            f"{count(c['note'], 'note')}."
            + (
                " Errors stop a study unless the study file says how to treat that kind; what was "
                "done stands in the table."
                if a.findings
                else ""
            )
        ),
        _accounts(results),
    ]
    if a.findings:
        blocks.append(_findings_by_code(results))
        blocks.append(_findings(results))
    if a.set_aside:
        blocks.append(_set_aside(results))
    blocks += _clocks(results)
    blocks += _readings(results)
    carried = results.records.hours_carried
    if carried > 0:
        blocks.append(
            say(
                f"The study carries last readings to the analysis date at each engine's own rate "
                f"of use: {carried:,.0f} h that no reading shows, and in which no failure could "
                "have been heard of.",
                "assumption",
            )
        )
    return Section(key="data", title="Data and audit", blocks=tuple(blocks))


def no_rows(n_blank: int) -> str:
    """Say that blank lines are not counted among the rows."""
    return f"{count(n_blank, 'blank line')} {'is no row' if n_blank == 1 else 'are no rows'}"


def _accounts(results: Results) -> Table:
    digest = {f.name: f for f in results.provenance.files}
    rows = []
    for x in results.audit.accounts:
        f = digest.get(x.file)
        rows.append(
            (
                f"{x.file} [{x.sheet}]" if x.sheet else x.file,
                x.source or "not said",
                {"lives": "a life per row", "log": "an event per row"}.get(x.shape, x.shape),
                x.n_read,
                x.n_used,
                x.n_set_aside,
                f.sha256[:16] if f else "",
            )
        )
    return Table(
        key="sources",
        title="Record files",
        columns=(
            Column(key="file", title="File"),
            Column(key="source", title="Source"),
            Column(key="shape", title="Shape"),
            Column(key="n_read", title="Rows read", kind="count"),
            Column(key="n_used", title="Used", kind="count"),
            Column(key="n_set_aside", title="Set aside", kind="count"),
            Column(key="sha256", title="SHA-256, first digits"),
        ),
        rows=tuple(rows),
    )


def _findings_by_code(results: Results) -> Table:
    table: dict[tuple[str, str, str], int] = {}
    for f in results.audit.findings:
        key = (f.severity, f.code, f.action)
        table[key] = table.get(key, 0) + 1
    return kinds_table(table)


def kinds_table(counts: Mapping[tuple[str, str, str], int]) -> Table:
    """Return findings counted by severity, kind and what was done, worst and most first."""
    order = {"error": 0, "warning": 1, "note": 2}
    lines = sorted(counts.items(), key=lambda kv: (order.get(kv[0][0], 3), -kv[1], kv[0][1]))
    return Table(
        key="findings-by-kind",
        title="Findings by kind",
        columns=(
            Column(key="severity", title="Severity"),
            Column(key="code", title="Kind"),
            Column(key="meaning", title="In words"),
            Column(key="action", title="What was done"),
            Column(key="n", title="Count", kind="count"),
        ),
        rows=tuple(
            (s, k, meaning_of(k), DONE.get(action, action), n) for (s, k, action), n in lines
        ),
    )


def _findings(results: Results) -> Table:
    shown = results.audit.findings[:FINDINGS_SHOWN]
    left = len(results.audit.findings) - len(shown)
    return Table(
        key="findings",
        title="Every finding",
        columns=(
            Column(key="severity", title="Severity"),
            Column(key="code", title="Kind"),
            Column(key="file", title="File"),
            Column(key="row", title="Row", kind="count"),
            Column(key="column", title="Column"),
            Column(key="value", title="Value"),
            Column(key="engine", title="Engine"),
            Column(key="message", title="What is odd"),
            Column(key="advice", title="What to do"),
            Column(key="action", title="What was done"),
        ),
        rows=tuple(
            (
                f.severity,
                f.code,
                f"{f.file} [{f.sheet}]" if f.sheet else f.file,
                f.row,
                f.column,
                f.value,
                f.engine,
                f.message,
                f.advice,
                DONE.get(f.action, f.action),
            )
            for f in shown
        ),
        see=f"{left:,} more are in results.json." if left > 0 else "",
        folded=True,
    )


def _set_aside(results: Results) -> Table:
    return Table(
        key="set-aside",
        title="Rows set aside",
        columns=(
            Column(key="file", title="File"),
            Column(key="row", title="Row", kind="count"),
            Column(key="engine", title="Engine"),
            Column(key="source", title="Source"),
            Column(key="reason", title="Reason"),
            Column(key="message", title="In words"),
        ),
        rows=tuple(
            (
                f"{x.file} [{x.sheet}]" if x.sheet else x.file,
                x.row,
                x.engine,
                x.source,
                x.reason,
                x.message,
            )
            for x in results.audit.set_aside[:FINDINGS_SHOWN]
        ),
        see="No row is dropped without standing here.",
        folded=True,
    )


def _clocks(results: Results) -> list[Block]:
    h = results.settings.hours
    kinds: dict[str, int] = {}
    for row in results.built.rows:
        kinds[row.meter or h.meter] = kinds.get(row.meter or h.meter, 0) + 1
    shown = ", ".join(f"{METERS.get(k, k)}: {n:,}" for k, n in sorted(kinds.items()))
    out: list[Block] = [say(f"Hours were read from these meters (lives): {shown}.")]
    rows = [
        (METERS.get(name, name), f.factor, f.low, f.high)
        for name, f in sorted(stated_factors(results.settings).items())
        if name in h.factors
    ]
    if rows:
        out.append(
            Table(
                key="clocks",
                title="Clock conversions",
                columns=(
                    Column(key="meter", title="Meter"),
                    Column(key="factor", title=f"Factor to {METERS[h.meter]}", kind="number"),
                    Column(key="low", title="Low end", kind="number"),
                    Column(key="high", title="High end", kind="number"),
                ),
                rows=tuple(rows),
                see="Hours are multiplied by the factor; an error of 5 % in the factor is 5 % in "
                "every age of this report that rests on that meter.",
            )
        )
    return out


def _readings(results: Results) -> list[Block]:
    date = results.settings.study.analysis_date
    running = [r for r in results.built.rows if r.ending == "running"]
    last = [r.last_reading for r in running if r.last_reading is not None]
    if not running or date is None:
        return []
    if not last:
        return [
            say(
                "No running engine has a dated last reading, so nobody can tell how old the hours "
                "are. Engines may have failed since.",
                "missing",
            )
        ]
    days = results.settings.hours.stale_days
    stale = sum(1 for d in last if (date - d) > dt.timedelta(days=days))
    undated = len(running) - len(last)
    text = (
        f"Of {count(len(running), 'running engine')}, {stale or 'none'} "
        f"{'was' if stale <= 1 else 'were'} last read more than {days} days before {date}"
    )
    text += f", and {undated:,} give no date." if undated else "."
    return [say(text, "caution" if stale + undated > 0.2 * len(running) else "fact")]
