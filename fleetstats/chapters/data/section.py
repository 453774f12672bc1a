"""Data and audit: where the rows came from, what became of them, what was odd."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from fleetstats.advice.results import Results
from fleetstats.document.blocks import METERS, say
from fleetstats.document.document import Block, Section, Table
from fleetstats.document.references import point
from fleetstats.document.table_of import col, table_of
from fleetstats.records.clocks.clocks import stated_factors
from fleetstats.records.mends.words import say_mends
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.findings import meaning_of
from fleetstats.vocabulary.wording import count

FINDINGS_SHOWN = 300
DONE = {"accept": "used", "set-aside": "set aside", "stop": "stopped the study"}
"""What was done with a finding, in words."""
SHAPES = {"lives": "a life per row", "log": "an event per row"}


def compose_data(results: Results) -> Section:
    """Return sources, the account of rows, findings, clocks and the age of readings."""
    a = results.audit
    c = a.counts()
    blocks: list[Block] = [
        say(
            f"{a.n_read:,} rows read = {a.n_used:,} used + {a.n_set_aside:,} set aside"
            + (f"; {no_rows(a.n_blank)}." if a.n_blank else ".")
        ),
        *_mends(results),
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


def _mends(results: Results) -> list[Block]:
    mended = results.records.mended
    if not mended:
        return []
    return [
        say(f"{capital(say_mends(mended))}: each stands, with its reason, in "
            f"{point('mends', otherwise='mends.csv')}.")
    ]  # fmt: skip


def no_rows(n_blank: int) -> str:
    """Say that blank lines are not counted among the rows."""
    return f"{count(n_blank, 'blank line')} {'is no row' if n_blank == 1 else 'are no rows'}"


def _file(name: str, sheet: str) -> str:
    return f"{name} [{sheet}]" if sheet else name


def _accounts(results: Results) -> Table:
    digest = {f.name: f.sha256 for f in results.provenance.files}
    return table_of(
        results.audit.accounts,
        key="sources",
        title="Record files",
        columns=(
            col("file", "File", lambda x: _file(x.file, x.sheet)),
            col("source", "Source", lambda x: x.source or "not said"),
            col("shape", "Shape", lambda x: SHAPES.get(x.shape, x.shape)),
            col("n_read", "Rows read", lambda x: x.n_read, "count"),
            col("n_used", "Used", lambda x: x.n_used, "count"),
            col("n_set_aside", "Set aside", lambda x: x.n_set_aside, "count"),
            col("sha256", "SHA-256, first digits", lambda x: digest.get(x.file, "")[:16]),
        ),
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
    return table_of(
        [(*kind, n) for kind, n in lines],
        key="findings-by-kind",
        title="Findings by kind",
        columns=(
            col("severity", "Severity", lambda x: x[0]),
            col("code", "Kind", lambda x: x[1]),
            col("meaning", "In words", lambda x: meaning_of(x[1])),
            col("action", "What was done", lambda x: DONE.get(x[2], x[2])),
            col("n", "Count", lambda x: x[3], "count"),
        ),
    )


def _findings(results: Results) -> Table:
    shown = results.audit.findings[:FINDINGS_SHOWN]
    left = len(results.audit.findings) - len(shown)
    return table_of(
        shown,
        key="findings",
        title="Every finding",
        columns=(
            col("severity", "Severity", lambda f: f.severity),
            col("code", "Kind", lambda f: f.code),
            col("file", "File", lambda x: _file(x.file, x.sheet)),
            col("row", "Row", lambda f: f.row, "count"),
            col("column", "Column", lambda f: f.column),
            col("value", "Value", lambda f: f.value),
            col("engine", "Engine", lambda f: f.engine),
            col("message", "What is odd", lambda f: f.message),
            col("advice", "What to do", lambda f: f.advice),
            col("action", "What was done", lambda f: DONE.get(f.action, f.action)),
        ),
        see=f"{left:,} more are in results.json." if left > 0 else "",
        folded=True,
    )


def _set_aside(results: Results) -> Table:
    return table_of(
        results.audit.set_aside[:FINDINGS_SHOWN],
        key="set-aside",
        title="Rows set aside",
        columns=(
            col("file", "File", lambda x: _file(x.file, x.sheet)),
            col("row", "Row", lambda x: x.row, "count"),
            col("engine", "Engine", lambda x: x.engine),
            col("source", "Source", lambda x: x.source),
            col("reason", "Reason", lambda x: x.reason),
            col("message", "In words", lambda x: x.message),
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
    factors = [x for x in sorted(stated_factors(results.settings).items()) if x[0] in h.factors]
    if factors:
        out.append(
            table_of(
                factors,
                key="clocks",
                title="Clock conversions",
                columns=(
                    col("meter", "Meter", lambda x: METERS.get(x[0], x[0])),
                    col("factor", f"Factor to {METERS[h.meter]}", lambda x: x[1].factor, "number"),
                    col("low", "Low end", lambda x: x[1].low, "number"),
                    col("high", "High end", lambda x: x[1].high, "number"),
                ),
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
