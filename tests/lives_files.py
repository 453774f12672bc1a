"""The table of all lives as a report writes it, made here from spells for the tests of checkers."""

from __future__ import annotations

import csv
import io

from fleetstats.spells import Event, Spells

COLUMNS = (
    "life", "engine", "build", "source", "file", "row", "words", "meaning", "rule", "use",
    "entry_h", "exit_low_h", "exit_high_h", "event", "weight",
)  # fmt: skip
WORDS = {
    Event.FAILED: "failed", Event.CENSORED: "running", Event.FINDING: "removed",
    Event.COMPETING: "competing",
}  # fmt: skip


def lives_csv(spells: Spells) -> str:
    """Return spells as the table of lives, with a row that does not count."""
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\n")
    write.writerow(COLUMNS)
    for i in range(len(spells)):
        write.writerow((
            i + 1, spells.unit[i], spells.build[i], spells.source[i], "lives.csv", i + 2, "", "",
            "", "counted", repr(float(spells.entry[i])), repr(float(spells.exit_lower[i])),
            repr(float(spells.exit_upper[i])), WORDS[Event(int(spells.event[i]))],
            repr(float(spells.weight[i])),
        ))  # fmt: skip
    blank = [""] * (len(COLUMNS) - 10)
    write.writerow((len(spells) + 1, "E0", *[""] * 7, "set aside: no hours", *blank))
    return out.getvalue()
