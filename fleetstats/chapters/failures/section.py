"""Every failure and every removal on a finding, one line each."""

from __future__ import annotations

import datetime as dt

from fleetstats.advice.left_out import say_left_out
from fleetstats.advice.results import Results
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section, Table
from fleetstats.document.references import point
from fleetstats.document.table_of import col, table_of
from fleetstats.spells.spells import Event
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
    """Return all failures and condition removals; notes of members are not repeated here."""
    s = results.spells
    n_other = float(s.weight[s.event == Event.COMPETING].sum())
    n_finding = float(s.weight[s.event == Event.FINDING].sum())
    blocks: list[Block] = [
        say(
            f"{count(s.n_failed, 'failure').capitalize()} in question{_also(s.n_left_out)}, "
            f"{count(n_other, 'failure')} from other causes and "
            f"{count(n_finding, 'removal')} on a finding are in the records."
            + (" Each stands below." if s.n_failed + n_other + n_finding else "")
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
    return Section(
        key="failures", title="Every failure and condition removal", blocks=tuple(blocks)
    )


def _also(n_left_out: int) -> str:
    return f" that could be counted, {n_left_out:,} more that could not" if n_left_out else ""


def _table(results: Results, shown: list[int]) -> Table:
    s, lives = results.spells, results.built.rows
    said = {True: "yes", False: "no", None: "not said"}

    def known_from(i: int) -> float | None:
        return float(s.exit_lower[i]) if bool(s.interval_known[i]) else None

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
