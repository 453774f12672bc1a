"""Every failure and every removal on a finding, one line each."""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.core.value import Array
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Column, Section, Table
from fleetstats.document.references import point
from fleetstats.spells.spells import Event
from fleetstats.vocabulary.wording import count

_COUNTS = {
    int(Event.FAILED): "failure in question",
    int(Event.COMPETING): "another cause",
    int(Event.FINDING): "removed on a finding",
}


def compose_failures(results: Results) -> Section:
    """Return all failures and condition removals; notes of members are not repeated here."""
    s = results.spells
    n_other = float(s.weight[s.event == Event.COMPETING].sum())
    n_finding = float(s.weight[s.event == Event.FINDING].sum())
    blocks: list[Block] = [
        say(
            f"{count(s.n_failed, 'failure').capitalize()} in question, "
            f"{count(n_other, 'failure')} from other causes and "
            f"{count(n_finding, 'removal')} on a finding are in the records."
            + (" Each stands below." if s.n_failed + n_other + n_finding else "")
        )
    ]
    if s.n_failed == 0:
        blocks.append(
            say(
                "No failure in question was reported. That is not the same as none. How many "
                "unreported failures would turn the answer: "
                + point("hidden", otherwise="not worked out here")
                + ".",
                "caution",
            )
        )
    rows = _rows(results)
    if rows:
        blocks.append(
            Table(
                key="failures",
                title="Every failure and every removal on a finding",
                columns=(
                    Column(key="engine", title="Engine"),
                    Column(key="counts_as", title="Counts as"),
                    Column(key="hours", title="Hours", kind="hours"),
                    Column(
                        key="known_from_h",
                        title="Known good at",
                        kind="hours",
                        help="Last hours at which the engine was known good, where the failure is "
                        "only known to lie between two ages.",
                    ),
                    Column(key="entry_h", title="Watched from", kind="hours"),
                    Column(key="date", title="Date", kind="date"),
                    Column(key="build", title="Build"),
                    Column(key="source", title="Source"),
                    Column(key="found", title="How it ended"),
                    Column(key="cause", title="Cause"),
                    Column(key="confirmed", title="Confirmed"),
                    Column(key="origin", title="Where it stands"),
                ),
                rows=tuple(rows),
                see="Sorted by hours. Corrective action is not part of these records.",
            )
        )
    return Section(
        key="failures", title="Every failure and condition removal", blocks=tuple(blocks)
    )


def _rows(results: Results) -> list[tuple[str | float | int | None, ...]]:
    s = results.spells
    said = {True: "yes", False: "no", None: "not said"}
    event: Array = s.event
    lines = []
    for i, life in enumerate(results.built.rows):
        if int(event[i]) not in _COUNTS:
            continue
        between = bool(s.interval_known[i])
        when = life.ended or life.last_reading
        lines.append(
            (
                float(s.exit_upper[i]),
                life.engine,
                (
                    life.engine,
                    _COUNTS[int(event[i])],
                    float(s.exit_upper[i]),
                    float(s.exit_lower[i]) if between else None,
                    float(s.entry[i]),
                    str(when) if when else None,
                    life.build or "not said",
                    life.source or "not said",
                    life.ending.replace("-", " "),
                    life.cause or "not said",
                    said[life.confirmed],
                    str(life.origin),
                ),
            )
        )
    lines.sort(key=lambda x: (x[0], x[1]))
    return [x[2] for x in lines]
