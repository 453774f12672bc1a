"""The verbs that answer one chapter's question alone. Light: the list of verbs is made from it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """An option of a verb that stands in place of one key of the study file."""

    flag: str
    table: str
    key: str
    help: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Verb:
    """The verb that answers a chapter's question alone.

    `line` stands in the list of verbs; `says` is its help page, with FOLDER for the study;
    `missing` the sentence for a study that has nothing for it; `example` follows its name in the
    example of the help page. `at` says whether it takes --at NAME=VALUE.
    """

    name: str
    line: str
    says: str
    missing: str
    option: Option | None = None
    at: bool = False
    example: str = "--json"


POOL = Verb(
    name="pool",
    line="Say whether sources and builds may be taken together.",
    says="Say whether the sources and builds of FOLDER may be pooled, and what carries the answer.",
    missing="There is one engine or none in the records.",
)
CAUSES = Verb(
    name="causes",
    line="Say what fails, and what an overhaul mends of it.",
    says="Say what fails in FOLDER by cause, and what is left where one cause is designed out.",
    missing="No failure in the records has a cause.",
)
EVENTS = Verb(
    name="events",
    line="Say how often events come again, and what is to come.",
    says="Say how often events come again in FOLDER, and how many are to come.",
    missing="The study has no log, or its logs tell of no event.",
)
HIDDEN = Verb(
    name="hidden",
    line="Say what unreported or doubtful facts would change.",
    says="Say what unreported failures, lost engines and misread hours would change in FOLDER.",
    missing="Nothing can be said of what is hidden.",
)
REMOVALS = Verb(
    name="removals",
    line="Say whether removals look like hidden failures.",
    says="Say whether the removals of FOLDER come with age as failures do, and what they hide.",
    missing="No life in the records ended in a removal.",
)
SOURCES = Verb(
    name="sources",
    line="Say whether a source tells too few failures, or too many.",
    says="Set the failures that each source of FOLDER tells beside those of the others.",
    missing="There is one source, and no engine is seen to drop off its list.",
)
EFFECTS = Verb(
    name="effects",
    line="Say what use, fuel or build does to life.",
    says="Say what use, fuel, build and other covariates do to life in FOLDER, and the life at "
    "chosen values of them.",
    missing="The study has no covariates: name columns of words in categories.columns, or of "
    "numbers in groups.covariates.",
    at=True,
    example="--at use=towing --at fuel=unleaded",
)
INTERVAL = Verb(
    name="interval",
    line="Say whether the checks are frequent enough.",
    says="Are the checks of FOLDER frequent enough?",
    missing="The records hold neither check sheets nor faults found at checks. Add a file of shape "
    '"checks", or the endings found-at-check and removed-finding.',
    option=Option(flag="--hours", table="check", key="interval_h", help="Hours between checks."),
    example="--hours 25",
)
TRENDS = Verb(
    name="trends",
    line="Say what the checks show over time.",
    says="Say what leak-down, metal on the plug and oil use show in FOLDER, worst first.",
    missing='The study has no file of shape "leakdown", and no grades or oil use among its checks.',
)
OUTLOOK = Verb(
    name="outlook",
    line="Say which engines to look at first.",
    says="Rank the running engines of FOLDER, with reasons; those past the evidence apart.",
    missing="No engine in the records is running.",
)
FORECAST = Verb(
    name="forecast",
    line="Say what is coming for the fleet.",
    says="Forecast failures, removals, spares and reserve for the fleet of FOLDER.",
    missing="No engine in the records is running.",
    option=Option(flag="--months", table="forecast", key="months", help="Months ahead."),
    example="--months 6",
)
BENCH = Verb(
    name="bench",
    line="Carry bench lives to service, beside the field.",
    says="Carry the bench lives of FOLDER to service, and test them against the field.",
    missing='The study has no file of shape "bench".',
)

CHAPTER_VERBS = (
    POOL,
    SOURCES,
    CAUSES,
    EVENTS,
    HIDDEN,
    REMOVALS,
    EFFECTS,
    INTERVAL,
    TRENDS,
    OUTLOOK,
    FORECAST,
    BENCH,
)
"""In the order of the list of verbs; the registry says which chapter has which."""
