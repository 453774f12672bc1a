"""What is told of mends: decisions about cells and rows that stand beside the supplied files."""

from __future__ import annotations

from fleetstats.vocabulary.findings.entry import FAILURE_ASIDE, error, note

_UNDO = "Take it back (fleetstats check --untake {number}) and decide anew with 'check --out'."

MENDS = (
    error(
        "mend-refused",
        "A mend that does not fit the file which it mends, so it is not applied.",
        says={
            "file": "Mend {number} is of '{theirs}', which the study does not name as a record "
            "file.",
            "sheet": "Mend {number} is of the sheet '{theirs}', which the study does not name.",
            "digest": "Mend {number} was decided on another version of this file: its SHA-256 "
            "begins with {was}, that of the file with {now}.",
            "row": "Mend {number} is of a row that the table does not have.",
            "column": "Mend {number} is of a column that the table does not have, or has twice.",
            "old": "Mend {number} was to replace '{was}', and '{now}' stands there.",
            "unread": "Mend {number} is of a file that cannot be read.",
        },
        cure={
            "file": _UNDO,
            "sheet": _UNDO,
            "digest": "Put the version back that was decided on. Or t" + _UNDO[1:],
            "row": _UNDO,
            "column": _UNDO,
            "old": _UNDO,
            "unread": "Mend or replace the file first.",
        },
        of_file=True,
    ),
    note(
        "mended-aside",
        "A row that was set aside by decision; the reason and the role stand in mends.csv.",
        says="Mended: set aside by {by}: {why}.",
        cure="Take its line out of mends.csv to read the row again. " + FAILURE_ASIDE,
        usual="set-aside",
        may_accept=False,
    ),
)
