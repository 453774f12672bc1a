"""The columns of shape "leakdown"."""

from __future__ import annotations

from fleetstats.vocabulary.fields.field import Field

LEAKDOWN_FIELDS = (
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
        words=("hours at check", "engine hours", "tt", "tsn", "time since new"),
        unit="h",
        required=True,
        example="550",
    ),
    Field(
        name="cylinder",
        doc="Number of the cylinder.",
        words=("cyl", "cylinder no", "cylinder number"),
        required=True,
        example="3",
    ),
    Field(
        name="reading",
        doc="Pressure read at the cylinder.",
        words=("pressure", "cylinder pressure", "compression", "value"),
        required=True,
        example="74",
    ),
    Field(
        name="supply",
        doc="Supply pressure; the study's where empty.",
        words=("supply pressure", "regulated pressure"),
        example="80",
    ),
    Field(
        name="reference",
        doc="Reading of the reference orifice on that day, if it was read.",
        words=("reference reading", "master orifice", "reference orifice", "orifice reading"),
        example="52",
    ),
    Field(
        name="date",
        doc="Date of the check.",
        words=("check date", "date of check"),
        example="2026-05-11",
    ),
    Field(
        name="temperature",
        doc="hot or cold.",
        words=("engine temperature", "hot or cold", "hot cold"),
        example="hot",
    ),
    Field(name="tester", doc="Tester or gauge, by role or number.", words=("gauge", "test set")),
    Field(
        name="leak_path",
        doc="Where the air was heard: rings, exhaust valve, intake valve, head.",
        words=("leak", "leak source", "air heard at"),
        example="exhaust valve",
    ),
    Field(name="id", doc="Number of the reading, if retests refer to it.", words=("reading id",)),
    Field(
        name="retest_of",
        doc="The id of the reading that this one repeats; it replaces that reading.",
        words=("retest", "repeats", "replaces"),
    ),
    Field(
        name="action",
        doc="What was done afterwards: valve work, cylinder change, none.",
        words=("action taken",),
        example="valve work",
    ),
    Field(name="note", doc="Anything else.", words=("notes", "remark", "remarks", "comment")),
)
"""The columns of record shape "leakdown"."""
