"""What the cells of shape "lives" mean."""

from __future__ import annotations

from typing import Any

from fleetstats.records.hours import MAX_HOURS
from fleetstats.records.rows.meaning import Meaning
from fleetstats.study.clock_settings import MOST_DOUBT
from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile
from fleetstats.vocabulary.endings import ENDINGS_BY_WORD
from fleetstats.vocabulary.fold import fold

TOLD_IN_WORDS = ("entry_hours", "exit_hours", "last_good_hours")
"""Columns of hours that may be told in words; the others move whole clocks."""

HOUR_COLUMNS = (
    "entry_hours",
    "exit_hours",
    "last_good_hours",
    "overhauled_at_hours",
    "since_overhaul_hours",
    "modified_at_hours",
)
DATE_COLUMNS = ("in_service_date", "observed_from_date", "last_reading_date", "ended_date")
FLAG_COLUMNS = ("confirmed", "found_at_teardown")
MAX_COUNT = 1_000_000
MAX_COVARIATE = 1e12


def engine_hours(name: str, **troubles: Any) -> Meaning:
    """Return the meaning of a column of hours that an engine can have."""
    known = {
        "what": "a number of hours",
        "unreadable": "hours-unreadable",
        "impossible": "hours-impossible/cell",
        "trouble": "beyond-engine",
    }
    return Meaning(name, "hours", most=MAX_HOURS, **(known | troubles))


def life_cells(file: RecordFile, settings: Settings) -> tuple[Meaning, ...]:
    """Return what tells of a life: engine, hours, dates, flags, meter and ending."""
    endings = {fold(w): (e, "") for w, e in file.endings.items()}
    return (
        Meaning("engine", "engine", missing="engine-missing", unreadable="engine-unreadable"),
        *(engine_hours(n, doubt=n in TOLD_IN_WORDS) for n in HOUR_COLUMNS),
        *(Meaning(n, "date", doubt=True) for n in DATE_COLUMNS),
        *(Meaning(n, "flag") for n in FLAG_COLUMNS),
        Meaning(
            "meter", "meter", blank=file.meter or settings.hours.meter, unreadable="meter-unknown"
        ),
        Meaning(
            "ending",
            "ending",
            words=ENDINGS_BY_WORD | endings,
            blank=("running", ""),
            missing="ending-missing",
        ),
    )


def more_cells(file: RecordFile, settings: Settings) -> tuple[Meaning, ...]:
    """Return what a life may have besides: covariates, words, texts and the number of engines."""
    causes = {fold(w): c for w, c in file.causes.items()}
    return (
        *(
            Meaning(
                n,
                "number",
                least=-MAX_COVARIATE,
                most=MAX_COVARIATE,
                unreadable="covariate-unreadable/cell",
                impossible="covariate-unreadable",
            )
            for n in settings.groups.covariates
        ),
        *(Meaning(n, "text", blank="") for n in settings.categories.columns),
        Meaning("note", "literal", blank="", cut=True),
        Meaning("cause", "cause", words=causes, blank="", cut=True),
        Meaning("build", "literal", blank="", cut=True),
        Meaning("source", "literal", blank=file.source, cut=True),
        Meaning("modified_to", "literal", blank=""),
        Meaning(
            "clock_doubt",
            "share",
            what="a doubt of the clock",
            most=MOST_DOUBT,
            unreadable="clock-doubt-unreadable",
            impossible="clock-doubt-unreadable",
            trouble="no-clock-doubt",
        ),
        Meaning(
            "count",
            "number",
            what="a count",
            blank=1,
            least=1,
            most=MAX_COUNT,
            whole=True,
            unreadable="count-unreadable",
            impossible="count-unreadable",
            trouble="no-count",
        ),
    )
