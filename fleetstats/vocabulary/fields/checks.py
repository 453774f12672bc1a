"""The columns of shape "checks"."""

from __future__ import annotations

from fleetstats.vocabulary.fields.field import Field

CHECK_FIELDS = (
    Field(
        name="engine",
        doc="Engine id, as in the life records.",
        words=("engine id", "serial", "serial no", "serial number", "engine serial", "engine no"),
        required=True,
        example="E-0101",
    ),
    Field(
        name="hours",
        doc="Engine hours at the check, on the same clock as the life records.",
        words=("hours at check", "engine hours", "at hours", "tt", "tsn", "time since new"),
        unit="h",
        required=True,
        example="550",
    ),
    Field(
        name="date",
        doc="Date of the check.",
        words=("check date", "date of check"),
        example="2026-05-11",
    ),
    Field(
        name="method",
        doc="What was done: plug, leak-down, oil, borescope, filter or another word.",
        words=("check", "task", "kind", "kind of check", "check kind"),
        example="plug",
    ),
    Field(
        name="result",
        doc="clean, found (a fault) or doubtful; empty for a mere reading.",
        words=("outcome", "check result"),
        example="clean",
    ),
    Field(
        name="mode",
        doc="The failure mode that the fault belongs to, in the words of the causes.",
        words=("cause", "fault", "failure mode", "finding"),
        example="exhaust valve",
    ),
    Field(
        name="grade",
        doc="Metal on the plug: none, fuzz, paste, slivers or chips, or 0 to 4.",
        words=("metal", "plug grade", "chips", "metal grade"),
        example="fuzz",
    ),
    Field(
        name="value",
        doc="A number read at the check, such as oil used per hour.",
        words=("reading", "oil use", "oil consumption", "oil per hour"),
        example="0.21",
    ),
    Field(
        name="oil_hours",
        doc="Hours since the oil was changed.",
        words=("hours since oil change", "oil age", "oil age h"),
        unit="h",
        example="25",
    ),
    Field(
        name="action",
        doc="What was done: repaired, monitor, none.",
        words=("action taken",),
        example="repaired",
    ),
    Field(name="note", doc="Anything else.", words=("notes", "remark", "remarks", "comment")),
)
"""The columns of record shape "checks"."""
