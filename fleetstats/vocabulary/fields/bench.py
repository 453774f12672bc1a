"""The columns of shape "bench"."""

from __future__ import annotations

from fleetstats.vocabulary.fields.field import Field

BENCH_FIELDS = (
    Field(
        name="specimen",
        doc="Id of the part that was run.",
        words=("part", "specimen id", "part id", "serial", "unit", "sample"),
        example="C-07",
    ),
    Field(
        name="stress",
        doc="Stress of the run, in the unit that the study names.",
        words=("load", "level", "stress level", "test stress"),
        required=True,
        example="420",
    ),
    Field(
        name="life",
        doc="Hours or cycles run, as the study says.",
        words=("cycles", "hours", "run", "cycles run", "hours run", "cycles to failure"),
        required=True,
        example="1250000",
    ),
    Field(
        name="ended",
        doc="failed, or run-out (stopped unbroken).",
        words=("ending", "result", "outcome", "event", "status"),
        required=True,
        example="failed",
    ),
    Field(
        name="mode",
        doc="Failure mode.",
        words=("failure mode", "cause"),
        example="fillet fatigue",
    ),
    Field(
        name="mode_proven_by",
        doc="How the mode was proven: fractography, metallurgy; empty when it was not.",
        words=("mode proof", "proven by", "proof"),
        example="fractography",
    ),
    Field(name="note", doc="Anything else.", words=("notes", "remark", "remarks", "comment")),
)
"""The columns of record shape "bench"."""
