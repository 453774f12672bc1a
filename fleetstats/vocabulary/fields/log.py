"""The columns of shape "log"."""

from __future__ import annotations

from fleetstats.vocabulary.fields.field import Field

LOG_FIELDS = (
    Field(
        name="engine",
        doc="Engine id or serial number; the same engine must always have the same id.",
        words=("engine id", "engine serial", "engine serial number", "engine no", "engine number"),
        required=True,
        example="E-0101",
    ),
    Field(
        name="date",
        doc="Day of the event.",
        words=("day", "event date", "date of event"),
        example="2024-05-17",
    ),
    Field(
        name="hours",
        doc="Hours on the engine's clock at the event.",
        words=("meter", "meter reading", "reading", "engine hours", "tt", "tsn", "total time",
               "total hours", "hours since new"),
        unit="h",
        example="812.4",
    ),
    Field(
        name="kind",
        doc="What happened.",
        words=("event", "event kind", "what", "what happened", "action"),
        required=True,
        example="removed",
    ),
    Field(
        name="cause",
        doc="Why it was removed or failed.",
        words=("reason", "failure cause", "removal cause", "reason for removal"),
        example="exhaust valve",
    ),
    Field(
        name="confirmed",
        doc="Whether the shop confirmed a fault; for a teardown, whether a fault was found.",
        words=("fault confirmed", "shop confirmed", "fault found"),
        example="yes",
    ),
    Field(
        name="component",
        doc="Kind of component of a part event, such as crankshaft, gearbox, cylinder, "
        "turbocharger.",
        words=("part", "component kind", "part kind"),
        example="turbocharger",
    ),
    Field(
        name="serial",
        doc="Serial of the component.",
        words=("part serial", "component serial", "part serial number", "part no"),
        example="T-0042",
    ),
    Field(
        name="position",
        doc="Place of the component where an engine has several.",
        words=("place", "cylinder no", "cylinder number"),
        example="3",
    ),
    Field(
        name="since_new_hours",
        doc="Hours since new: of the engine, or of the component for a part event.",
        words=("since new", "part hours", "component hours"),
        unit="h",
    ),
    Field(
        name="since_overhaul_hours",
        doc="Hours since the last overhaul.",
        words=("since overhaul", "tso", "smoh", "hours since overhaul"),
        unit="h",
    ),
    Field(
        name="new_reading_hours",
        doc="After a meter change: what the new meter shows.",
        words=("new reading", "new meter reading"),
        unit="h",
    ),
    Field(
        name="build",
        doc="Build standard of the engine; for a modification, the new one.",
        words=("build standard", "standard", "variant", "version"),
        example="B1",
    ),
    Field(
        name="meter",
        doc="Meter kind of the hours: flight, tach or hobbs; the file's where empty.",
        words=("meter kind", "clock", "meter type"),
        example="tach",
    ),
    Field(
        name="source",
        doc="Who reported the event; the file's source where empty.",
        words=("reported by", "club", "shop", "reporter"),
        example="club A",
    ),
    Field(name="cost", doc="Cost of the event, in the study's money.", words=("price",)),
    Field(name="note", doc="Anything else.", words=("notes", "remark", "remarks", "comment",
                                                  "comments")),
)  # fmt: skip
"""The columns of record shape "log", in the order of the template."""
