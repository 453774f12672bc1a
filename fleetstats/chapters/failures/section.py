"""Every failure and every row that hints at one, one line each."""

from __future__ import annotations

import datetime as dt

from fleetstats.advice.left_out import say_left_out
from fleetstats.advice.results import Results
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section, Table
from fleetstats.document.references import point
from fleetstats.document.table_of import col, table_of
from fleetstats.spells.event import Event
from fleetstats.spells.trouble.values import PLACES, Trouble, TroubleRow
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.wording import count

_COUNTS = {
    int(Event.FAILED): "failure in question",
    int(Event.COMPETING): "another cause",
    int(Event.FINDING): "removed on a finding",
}
_KNOWN_FROM = (
    "Last hours at which the engine was known good, where the failure is only known to lie between "
    "two ages."
)


def compose_failures(results: Results) -> Section:
    """Return all failures and condition removals, and every row that hints at one.

    Of a table read by chunks, whose rows are not kept, the first rows of the ledger stand here.
    """
    s, trouble = results.spells, results.built.trouble
    n_other = float(s.weight[s.event == Event.COMPETING].sum())
    n_finding = float(s.weight[s.event == Event.FINDING].sum())
    whole = len(trouble.rows) == trouble.n
    blocks: list[Block] = [
        say(
            f"{count(s.n_failed, 'failure').capitalize()} in question{_also(s.n_left_out)}, "
            f"{count(n_other, 'failure')} from other causes and "
            f"{count(n_finding, 'removal')} on a finding are counted. {trouble.sentence}"
            + (" Each stands below." if trouble.n and whole else "")
            + ("" if whole else f" The first {len(trouble.rows):,} stand below.")
        )
    ]
    if s.n_left_out:
        blocks.append(
            say(
                f"{capital(say_left_out(s.left_out))}: no life counts them, and each bound stands "
                "beside one that has them at the least favourable ages that they can have. What "
                "they move: " + point("hidden", otherwise="not worked out here") + ".",
                "caution",
            )
        )
    elif s.n_failed == 0:
        blocks.append(
            say(
                "No failure in question was reported. That is not the same as none. How many "
                "unreported failures would turn the answer: "
                + point("hidden", otherwise="not worked out here")
                + ".",
                "caution",
            )
        )
    shown = [i for i in range(len(results.built.rows)) if int(s.event[i]) in _COUNTS]
    if shown:
        blocks.append(_table(results, shown))
    if trouble.rows:
        blocks.append(_ledger(trouble))
    return Section(
        key="failures", title="Every failure and condition removal", blocks=tuple(blocks)
    )


def _also(n_left_out: int) -> str:
    return f" that could be counted, {n_left_out:,} more that could not" if n_left_out else ""


def _ledger(trouble: Trouble) -> Table:
    """Return the ledger of trouble, what is not counted first."""
    order = ("not-counted", "set-aside", "merged", "excluded", "censored")
    rank = {p: i for i, p in enumerate(order)}
    return table_of(
        sorted(trouble.rows, key=lambda r: rank.get(r.place, len(order))),
        key="trouble",
        title="Every row that hints at a failure, and where it was counted",
        columns=(
            col("file", "File", lambda r: f"{r.file} [{r.sheet}]" if r.sheet else r.file),
            col("row", "Row", lambda r: r.row, "count"),
            col("engine", "Engine", lambda r: r.engine or "not said"),
            col("words", "As written", lambda r: _as_written(r)),
            col("meaning", "Taken to mean", lambda r: r.meaning),
            col("place", "Counted", lambda r: PLACES[r.place]),
            col("into", "Stands in", lambda r: r.into),
            col("hours", "Hours", lambda r: r.hours, "hours"),
            col("count", "Engines", lambda r: r.count, "count"),
        ),
        see="An ending, cause, mark, note or unread column that holds a word of trouble, whatever "
        "causes, maps and rules made of it; rows that no figure counts come first.",
    )


def _as_written(row: TroubleRow) -> str:
    return "; ".join(f"{c}: {w}" for c, w in zip(row.columns, row.words, strict=True))


def _table(results: Results, shown: list[int]) -> Table:
    s, lives = results.spells, results.built.rows
    said = {True: "yes", False: "no", None: "not said"}
    between = s.interval_known

    def known_from(i: int) -> float | None:
        return float(s.exit_lower[i]) if between[i] else None

    return table_of(
        sorted(shown, key=lambda i: (float(s.exit_upper[i]), lives[i].engine)),
        key="failures",
        title="Every failure and every removal on a finding",
        columns=(
            col("engine", "Engine", lambda i: lives[i].engine),
            col("counts_as", "Counts as", lambda i: _COUNTS[int(s.event[i])]),
            col("hours", "Hours", lambda i: float(s.exit_upper[i]), "hours"),
            col("known_from_h", "Known good at", known_from, "hours", help=_KNOWN_FROM),
            col("entry_h", "Watched from", lambda i: float(s.entry[i]), "hours"),
            col("date", "Date", lambda i: _day(lives[i].ended or lives[i].last_reading), "date"),
            col("build", "Build", lambda i: lives[i].build or "not said"),
            col("source", "Source", lambda i: lives[i].source or "not said"),
            col("found", "How it ended", lambda i: lives[i].ending.replace("-", " ")),
            col("cause", "Cause", lambda i: lives[i].cause or "not said"),
            col("confirmed", "Confirmed", lambda i: said[lives[i].confirmed]),
            col("origin", "Where it stands", lambda i: str(lives[i].origin)),
        ),
        see="Sorted by hours. Corrective action is not part of these records.",
    )


def _day(date: dt.date | None) -> str | None:
    return None if date is None else str(date)
