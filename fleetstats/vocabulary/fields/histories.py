"""The columns of shape "histories": fixed ones, and words for what happened and what is told of it.

A column such as "hours at 2nd failure" names a happening, its number and what it tells of it; any
number of them may stand in a file.
"""

from __future__ import annotations

from fleetstats.vocabulary.fields.field import Field
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS

AS_OF_A_LIFE = {f.name: f for f in LIFE_FIELDS}
"""Columns that mean in a history what they mean in a table of lives."""

HISTORY_FIELDS = (
    Field(
        name="engine",
        doc="Engine id or serial number; one row tells the whole history of one engine.",
        words=("engine id", "engine serial", "engine serial number", "engine no", "engine number",
               "serial", "serial number", "serial no", "sn", "s n"),
        required=True,
        example="E-0101",
    ),
    AS_OF_A_LIFE["source"],
    AS_OF_A_LIFE["build"],
    AS_OF_A_LIFE["meter"],
    AS_OF_A_LIFE["in_service_date"],
    Field(
        name="entry_hours",
        doc="Hours when observation began. Empty means 0: the engine was followed from new.",
        words=("entry", "entry h", "hours at entry", "hours when joined", "hours at start",
               "start hours", "first known hours", "hours first known"),
        unit="h",
        example="0",
    ),
    Field(
        name="observed_from_date",
        doc="Date on which your records of this engine begin.",
        words=("observed from", "observation start", "joined", "date joined", "records begin",
               "first record"),
    ),
    Field(
        name="hours_now",
        doc="Hours at the last reading, on the meter that the engine has now.",
        words=("now", "hours", "current hours", "last known hours", "last hours", "total time",
               "total hours", "tt", "ttsn", "tsn", "time since new", "hours since new",
               "engine hours", "exit hours", "hours at last reading", "last reading hours"),
        unit="h",
        example="1180",
    ),
    Field(
        name="last_reading_date",
        doc="Date of the last hour reading.",
        words=("last reading", "reading date", "date of reading", "date of last reading",
               "last reading on", "last report", "last update", "as of", "date now"),
        example="2026-10-31",
    ),
    Field(
        name="ending",
        doc="How it stands now: running, failed, planned-overhaul, removed (for another reason), "
        "lost. Empty means running, or as the last thing told leaves it.",
        words=("status", "status now", "state", "fate", "how it ended", "outcome"),
        example="running",
    ),
    Field(name="note", doc="Anything else.", words=("notes", "remark", "remarks", "comment",
                                                  "comments")),
)  # fmt: skip
"""The columns of record shape "histories" that stand once, in the order of the template."""

HAPPENINGS: dict[str, tuple[str, ...]] = {
    "failed": ("failed", "failure", "fail", "breakdown", "broke", "broken"),
    "removed": ("removed", "removal", "taken out", "taken off", "out of service"),
    "prop strike": ("prop strike", "propeller strike", "propstrike", "prop struck"),
    "back": ("back in service", "back", "returned to service", "return to service", "returned",
             "return", "back in use", "reinstalled", "refitted"),
    "repair": ("repair", "repaired", "field repair"),
    "top overhaul": ("top overhaul", "top overhauled", "overhauled top"),
    "overhauled": ("overhauled", "overhaul", "major overhaul"),
    "meter changed": ("meter changed", "meter change", "meter replaced", "new meter",
                      "hour meter changed", "hobbs changed", "tach changed", "meter swapped"),
    "check": ("checked", "check", "clean check", "inspected", "inspection"),
    "retired": ("retired", "sold", "scrapped", "withdrawn", "retirement"),
}  # fmt: skip
"""What may have happened to an engine, any number of times, with the words of heads for it.

Besides these a head such as "new crank" or "crank replaced" names a repair by what was renewed.
"""

TOLD: dict[str, tuple[str, ...]] = {
    "hours": ("", "at", "hours", "hour", "h", "hrs", "at h", "at hours", "at hrs", "hours at",
              "hours of", "h at", "hrs at", "tt", "tt at", "time", "reading"),
    "date": ("on", "date", "day", "date of", "day of", "when", "at date", "dated"),
    "cause": ("cause", "reason", "why", "cause of", "reason for", "due to"),
    "work": ("work", "work done", "what was done", "done", "repair", "repaired by"),
    "confirmed": ("confirmed",),
    "reading": ("new reading", "reading after", "new meter reading", "new shows", "reads",
                "restarts at"),
}  # fmt: skip
"""What a column may tell of a happening, with the words that heads have before or behind it."""

BARE: dict[str, tuple[str, str]] = {
    "cause": ("failed", "cause"),
    "failure cause": ("failed", "cause"),
    "reason": ("failed", "cause"),
    "confirmed": ("failed", "confirmed"),
    "work": ("failed", "work"),
    "work done": ("failed", "work"),
    "what was done": ("failed", "work"),
    "new reading": ("meter changed", "reading"),
    "new meter reading": ("meter changed", "reading"),
    "new meter reads": ("meter changed", "reading"),
    "reading of new meter": ("meter changed", "reading"),
}
"""Heads that name no happening, and what they tell of which."""

NUMBERS = {
    w: n
    for n, words in enumerate(
        (("1st", "first"), ("2nd", "second"), ("3rd", "third"), ("4th", "fourth"),
         ("5th", "fifth"), ("6th", "sixth"), ("7th", "seventh"), ("8th", "eighth")),
        start=1,
    )
    for w in words
}  # fmt: skip
"""Words that number a happening."""

RENEWED = ("all", "part", "nothing")
"""What a repair renewed: the engine as a whole, one part of it, or nothing."""

RENEWS_BY_WORD = {
    "overhaul": "all",
    "overhauled": "all",
    "major overhaul": "all",
    "top overhaul": "nothing",
}
"""Repairs of which the word itself says what they renewed, as events of a log have it."""


STATUS = {
    "running": ("reading", ""),
    "failed": ("failed", ""),
    "removed": ("removed", ""),
    "planned-overhaul": ("removed", "overhaul due"),
    "lost": ("lost", ""),
}
"""How an engine stands now, as an event of a log and the cause that it implies."""

TIMES_OFFERED = 3


def _of_failure(n: int) -> tuple[Field, ...]:
    return (
        Field(name=f"failed_at_{n}", unit="h", doc=f"Hours at failure {n}, on the meter it had."),
        Field(name=f"failure_{n}_date", doc=f"Day of failure {n}."),
        Field(name=f"cause_{n}", doc=f"Cause of failure {n}."),
        Field(name=f"work_done_{n}", doc=f"What was done after failure {n}, such as new crank or "
              "overhaul; the study says what each renewed."),
        Field(name=f"back_in_service_at_{n}", unit="h", doc="Hours when it came back from that."),
        Field(name=f"back_in_service_{n}_date", doc="Day on which it came back."),
    )  # fmt: skip


OFFERED_FIELDS = (
    *HISTORY_FIELDS[:-1],
    *(f for n in range(1, TIMES_OFFERED + 1) for f in _of_failure(n)),
    Field(name="prop_strike_at", unit="h", doc="Hours at a prop strike."),
    Field(name="overhauled_at", unit="h", doc="Hours at an overhaul of the whole engine."),
    Field(name="meter_changed_at", unit="h", doc="What the old meter showed when it was changed."),
    Field(name="meter_changed_date", doc="Day on which the meter was changed."),
    Field(name="new_meter_reading", unit="h", doc="What the new meter showed then."),
    *HISTORY_FIELDS[-1:],
)
"""The columns of a new table of histories; more of a kind are added with the next number."""
