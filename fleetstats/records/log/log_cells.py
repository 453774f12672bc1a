"""What the cells of shape "log" mean."""

from __future__ import annotations

import math

from fleetstats.records.lives.life_cells import engine_hours
from fleetstats.records.rows.meaning import Meaning
from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile
from fleetstats.vocabulary.events import EVENTS_BY_WORD, KINDS
from fleetstats.vocabulary.fold import fold

LOG_HOURS = ("hours", "since_new_hours", "since_overhaul_hours", "new_reading_hours")
LEFT_OUT = "log-cell-left-out"


def log_cells(file: RecordFile, settings: Settings) -> tuple[Meaning, ...]:
    """Return what tells of an event; an event stands without its date, cost or texts."""
    kinds = {fold(w): k for w, k in file.kinds.items()}
    causes = {fold(w): c for w, c in file.causes.items()}
    texts = ("component", "serial", "position", "build", "note")
    return (
        Meaning("engine", "engine", missing="log-engine-missing"),
        Meaning(
            "kind",
            "word",
            words=EVENTS_BY_WORD | kinds,
            known=tuple(KINDS),
            missing="log-kind-unknown",
            unreadable="log-kind-unknown/word",
        ),
        *(
            engine_hours(
                n,
                unreadable="log-hours-unreadable",
                impossible="log-hours-impossible",
                doubt=n == "hours" and not settings.hours.component,
            )
            for n in LOG_HOURS
        ),
        Meaning(
            "meter",
            "meter",
            blank=file.meter or settings.hours.meter,
            unreadable="log-meter-unknown",
        ),
        Meaning("date", "date", unreadable=LEFT_OUT, soft=True, doubt=True),
        Meaning("confirmed", "flag", unreadable=LEFT_OUT, soft=True),
        Meaning(
            "cost",
            "number",
            least=-math.inf,
            unreadable=LEFT_OUT,
            impossible=LEFT_OUT,
            trouble="no-cost",
            soft=True,
        ),
        Meaning("cause", "cause", words=causes, blank="", soft=True),
        Meaning("source", "text", blank=file.source, soft=True),
        *(Meaning(n, "text", blank="", soft=True) for n in texts),
        *(Meaning(n, "text", blank="", soft=True) for n in settings.categories.columns),
    )
