"""The columns of shape "lives"."""

from __future__ import annotations

from fleetstats.vocabulary.fields.field import Field

LIFE_FIELDS = (
    Field(
        name="engine",
        doc="Engine id or serial number; the same engine must always have the same id.",
        words=("engine id", "engine serial", "engine serial number", "engine no", "engine number",
               "serial", "serial number", "serial no", "sn", "s n"),
        required=True,
        example="E-0101",
    ),
    Field(
        name="source",
        doc="Who reported the row; the file's source where empty.",
        words=("reported by", "club", "shop", "reporter"),
        example="club A",
    ),
    Field(
        name="build",
        doc="Build standard of the engine.",
        words=("build standard", "build std", "standard", "variant", "model", "version"),
        example="B1",
    ),
    Field(
        name="entry_hours",
        doc="Hours when observation began. Empty means 0: the engine was followed from new. "
        "If you first heard of it at 600 h, write 600.",
        words=("entry", "entry h", "hours at entry", "hours when joined", "hours at start",
               "start hours", "first known hours", "hours first known"),
        unit="h",
        example="600",
    ),
    Field(
        name="exit_hours",
        doc="Hours now, or at the end.",
        words=("exit", "exit h", "hours", "hours at exit", "hours at end", "end hours",
               "hours now", "current hours", "last known hours", "total time", "total hours",
               "tt", "ttsn", "tsn", "time since new", "hours since new", "engine hours"),
        unit="h",
        required=True,
        example="1180",
    ),
    Field(
        name="last_good_hours",
        doc="For a fault found at a check or teardown: last hours at which the engine was known "
        "good. The failure lies between these and the exit hours.",
        words=("last good", "last good h", "last known good", "last known good hours",
               "last clean check", "hours at last clean check", "previous check hours"),
        unit="h",
        example="1130",
    ),
    Field(
        name="ending",
        doc="How it ended: running, failed, found-at-check, removed-finding (removed because of a "
        "finding), planned-overhaul, removed (for another reason), lost, modified.",
        words=("status", "event", "outcome", "how it ended", "end", "fate", "reason for end"),
        required=True,
        example="running",
    ),
    Field(
        name="cause",
        doc="Cause of the failure or the removal.",
        words=("failure cause", "removal cause", "reason", "reason for removal", "removal reason"),
        example="exhaust valve",
    ),
    Field(
        name="confirmed",
        doc="Whether the shop confirmed the fault: yes, no, or empty.",
        words=("fault confirmed", "shop confirmed", "confirmed by shop"),
        example="yes",
    ),
    Field(
        name="in_service_date",
        doc="Date on which the engine entered service.",
        words=("in service", "date in service", "entry into service", "installed", "date new",
               "installation date", "first flight"),
        example="2015-04-01",
    ),
    Field(
        name="observed_from_date",
        doc="Date on which your records of this engine begin.",
        words=("observed from", "observation start", "joined", "date joined", "records begin",
               "first record"),
        example="2017-01-01",
    ),
    Field(
        name="last_reading_date",
        doc="Date of the last hour reading.",
        words=("last reading", "reading date", "date of reading", "date of last reading",
               "last report", "last update", "last heard", "last heard of", "last contact",
               "as of"),
        example="2026-10-31",
    ),
    Field(
        name="ended_date",
        doc="Date of the failure or the removal.",
        words=("ended", "end date", "failure date", "removal date", "date ended", "date removed",
               "date of removal", "date of failure", "since when"),
        example="2026-05-11",
    ),
    Field(
        name="meter",
        doc="Meter kind of the hours: flight, tach or hobbs; the file's where empty.",
        words=("meter kind", "clock", "hour meter", "meter type"),
        example="tach",
    ),
    Field(
        name="clock_doubt",
        doc="By how much the hours of this engine may be wrong, its clock off by more one time in "
        "three: 5 % or 0.05; the study's where empty.",
        words=("doubt of the clock", "clock error", "meter error", "hours doubt"),
    ),
    Field(
        name="found_at_teardown",
        doc="Whether the teardown after a planned removal found an internal fault: yes, no, or "
        "empty when there was none.",
        words=("teardown found", "teardown finding", "found at strip", "strip finding",
               "fault at teardown"),
        example="no",
    ),
    Field(
        name="overhauled_at_hours",
        doc="Hours since new at the last overhaul; only where the hours above are since new.",
        words=("overhauled at", "last overhaul hours", "hours at overhaul",
               "hours at last overhaul"),
        unit="h",
    ),
    Field(
        name="since_overhaul_hours",
        doc="Hours since overhaul at the exit hours; another way to say the same.",
        words=("hours since overhaul", "time since overhaul", "tso", "smoh", "tsmoh", "soh"),
        unit="h",
    ),
    Field(
        name="modified_at_hours",
        doc="Hours at which the engine was modified to another build standard; build is then the "
        "standard before.",
        words=("modified at", "hours at modification", "modification hours", "retrofit hours"),
        unit="h",
    ),
    Field(
        name="modified_to",
        doc="Build standard after the modification.",
        words=("build after", "build after modification", "modified to build", "new build"),
    ),
    Field(
        name="count",
        doc="Number of equal engines that the row stands for; empty means 1.",
        words=("number of engines", "quantity", "qty", "units"),
    ),
    Field(
        name="call",
        doc="Number on a list of calls; a row with one and no answer is not counted.",
        words=("call no", "call number"),
    ),
    Field(name="note", doc="Anything else.", words=("notes", "remark", "remarks", "comment",
                                                  "comments")),
)  # fmt: skip
"""The columns of record shape "lives", in the order of the template."""
