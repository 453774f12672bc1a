"""Every kind of finding, with its severity and what can be done about it.

One table, so that [treat] can be checked against it, the report can explain a code, and no two
parts of the package say the same thing with different words.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fleetstats.records.audit.finding import Finding
from fleetstats.vocabulary.log_meanings import LOG_MEANINGS


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of finding.

    `may_accept` says whether a row with it can be used as it stands; `default` is the action
    where [treat] is silent.
    """

    code: str
    severity: str
    meaning: str
    may_accept: bool
    default: str


def _kinds(severity: str, may_accept: bool, default: str, table: dict[str, str]) -> list[Kind]:
    return [
        Kind(code=c, severity=severity, meaning=m, may_accept=may_accept, default=default)
        for c, m in table.items()
    ]


_BROKEN_FILE = {
    "file-unreadable": "A file that cannot be read as what its name says.",
    "file-too-large": "A file beyond the limits of the reader.",
    "column-missing": "A column that the shape needs is not in the file.",
    "column-twice": "Two columns of a file stand for the same thing.",
    "decimal-ambiguous": "It cannot be told whether commas or points mark decimals.",
}
_BROKEN_ROW = {
    "row-long": "A row has more cells than the header.",
    "engine-missing": "A row does not say which engine it is about.",
    "engine-unreadable": "An engine id that no register would hold.",
    "hours-missing": "The hours at exit are missing.",
    "hours-unreadable": "Hours that are not a number.",
    "hours-impossible": "Hours that no engine can have.",
    "exit-before-entry": "The hours at exit are fewer than at entry.",
    "failure-without-exposure": "A failure with no hours under observation before it.",
    "last-good-after-exit": "The last hours known good lie after the end.",
    "ending-unknown": "A word for the ending that is not known.",
    "meter-unknown": "A meter kind that is not known.",
    "count-unreadable": "A count of equal lives that is not a whole number above zero.",
}
_DOUBTFUL_ROW = {
    "row-short": "A row has fewer cells than the header.",
    "merged-cell": "A merged cell leaves part of its area empty.",
    "ending-missing": "The ending is missing; accepted rows count as running.",
    "entry-missing": "No entry hours, though the dates show the engine was not followed from new.",
    "overhaul-within-life": "A life since new runs on across an overhaul.",
    "duplicate-row": "Two rows say exactly the same.",
    "duplicate-life": "Two rows tell of the same engine over the same hours.",
    "hours-backwards": "An engine has fewer hours at a later date.",
    "hours-exceed-calendar": "More hours than the calendar between the dates has.",
    "date-future": "A date after the analysis date.",
    "dates-backwards": "Dates in an impossible order.",
}
_WARNING = {
    "cause-misspelt": "A cause that is a slip of a declared one; taken as that.",
    "cause-undeclared": "A cause that the study file does not name.",
    "confirmed-unreadable": "A yes or no that cannot be read.",
    "covariate-missing": "A covariate that no row of the records gives.",
    "covariate-unreadable": "A covariate that is not a number.",
    "date-ambiguous": "A date whose day and month cannot be told apart; left out.",
    "date-impossible": "A date that cannot be; left out.",
    "date-unreadable": "A date that cannot be read; left out.",
    "decimal-mixed": "Decimal commas and points in one file.",
    "modification-unclear": "A modification that does not say to which build; not split.",
    "modification-outside": "A modification outside the life that it stands in.",
    "last-good-before-entry": "The last hours known good lie before entry; entry is used.",
    "last-good-missing": "A fault found at a check without the last hours known good.",
    "life-before-overhaul": "The hours before an overhaul are not in these rows as a life.",
    "more-than-built": "More engines in the records than were built.",
    "serial-not-built": "An engine that is not in the list of serials built.",
    "meter-mixed": "More than one meter kind, converted by the stated factors.",
    "possible-duplicate": "Two failures so alike that they may be one, reported twice.",
    "reading-stale": "The last reading is long before the analysis date.",
    "hours-heaped": "Hours are rounded more often than chance would have it.",
    "running-ended": "A running engine with a date of end.",
    "text-cut": "A text longer than the limit; cut.",
    "control-characters": "Characters that cannot be printed; removed.",
    "use-implausible": "More hours a year than one engine usually flies.",
    "file-empty": "A file without a row.",
}
_NOTE = {
    "all-from-new": "A file without entry hours; all its engines count as followed from new.",
    "cause-missing": "Failures without a cause.",
    "column-unused": "Columns that are not used.",
    "encoding-guessed": "The encoding was guessed.",
    "engine-respelt": "One engine under more than one spelling.",
    "fate-unknown": "Engines built that are not in the records.",
    "formula-value": "A formula; the value that the sheet stored for it is used.",
    "serials-odd": "Empty or repeated lines in the list of serials built.",
    "removal-unexplained": "Removals without a reason; they count as fair censorings.",
    "reading-undated": "Running engines whose last reading has no date.",
}
_ALL = [
    *_kinds("error", False, "stop", _BROKEN_FILE | _BROKEN_ROW),
    *_kinds("error", True, "stop", _DOUBTFUL_ROW),
    *_kinds("warning", True, "accept", _WARNING),
    *_kinds("note", True, "accept", _NOTE),
    *_kinds(
        "warning",
        False,
        "set-aside",
        {"no-exposure": "A life with no hours under observation; it says nothing."},
    ),
    *_kinds("note", False, "set-aside", {"example-row": "A template's example row."}),
    # log, merge, clocks
]
OTHER_REASONS = {
    "merged": "The same life as in another report, into which it was merged.",
    "component-not-concerned": "Hours that no life of the part in question spans.",
}
"""Reasons for which a row is set aside without anything being odd in it."""

KINDS: dict[str, Kind] = {k.code: k for k in _ALL}
"""All kinds by code."""

FILE_KINDS = frozenset(_BROKEN_FILE)
"""Kinds that concern a whole file; [treat] cannot mend them."""


def make_finding(code: str, message: str, advice: str = "", **where: Any) -> Finding:
    """Return a finding of a known kind; its severity is the kind's.

    `where` holds any of file, row, column, value, engine, sheet, related.
    """
    kind = KINDS[code]
    return Finding(
        code=code,
        severity=kind.severity,
        message=message,
        advice=advice,
        action=kind.default,
        **where,
    )


def meaning_of(code: str) -> str:
    """Return what a code of the audit or a reason of a row set aside means; empty if unknown."""
    if code in KINDS:
        return KINDS[code].meaning
    return LOG_MEANINGS.get(code) or OTHER_REASONS.get(code, "")
