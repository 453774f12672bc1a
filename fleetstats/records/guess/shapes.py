"""Per shape of records: its columns, the heads that stand for each, and what its cells must be."""

from __future__ import annotations

from functools import lru_cache

from fleetstats.records.condition.condition import CONDITION_SHAPES
from fleetstats.records.lives.life_cells import FLAG_COLUMNS
from fleetstats.study.condition_checks import FIELDS as CONDITION_FIELDS
from fleetstats.tables.columns import field_words
from fleetstats.vocabulary.fields.field import Field
from fleetstats.vocabulary.fields.histories import HISTORY_FIELDS
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.tongues.bare import bare, spellings
from fleetstats.vocabulary.tongues.heads import (
    CHECK_HEADS,
    LEAKDOWN_HEADS,
    LIFE_HEADS,
    LOG_HEADS,
)

FIELDS_OF: dict[str, tuple[Field, ...]] = {
    "lives": LIFE_FIELDS,
    "log": LOG_FIELDS,
    "histories": HISTORY_FIELDS,
    **{shape: tuple(CONDITION_FIELDS[shape]) for shape in CONDITION_SHAPES},
}
"""The columns of each shape that is guessed."""

_HISTORY_HEADS = {f.name: LIFE_HEADS[f.name] for f in HISTORY_FIELDS if f.name in LIFE_HEADS}
_HISTORY_HEADS["hours_now"] = LIFE_HEADS["exit_hours"]

HEADS_OF = {"histories": _HISTORY_HEADS, "lives": LIFE_HEADS, "log": LOG_HEADS,
            "checks": CHECK_HEADS, "leakdown": LEAKDOWN_HEADS}  # fmt: skip

_KINDS = {
    "engine": "id",
    "specimen": "id",
    "serial": "id",
    "id": "id",
    "retest_of": "id",
    "ending": "list",
    "ended": "list",
    "kind": "list",
    "result": "list",
    "method": "list",
    "grade": "list",
    "action": "list",
    "component": "list",
    "meter": "list",
    "leak_path": "list",
    "mode_proven_by": "list",
    "cause": "word",
    "mode": "word",
    "build": "code",
    "source": "code",
    "modified_to": "code",
    "tester": "code",
    "note": "prose",
    "date": "date",
    "cylinder": "number",
    "position": "code",
}


def kind_of_field(field: Field) -> str:
    """Return what cells must be: id, number, date, flag, list, word, code or prose."""
    if field.unit:
        return "number"
    if field.name in FLAG_COLUMNS:
        return "flag"
    if field.name.endswith("_date"):
        return "date"
    return _KINDS.get(field.name, "number")


@lru_cache(maxsize=16)
def heads_of(shape: str) -> dict[str, tuple[str, ...]]:
    """Return each bare head of a shape with the columns of ours that it may stand for.

    A head that the reader knows stands for that column first.
    """
    out: dict[str, tuple[str, ...]] = {}
    for word, ours in field_words(FIELDS_OF.get(shape, ())).items():
        out[bare(word)] = (ours,)
    for ours, words in HEADS_OF.get(shape, {}).items():
        for word in words:
            for form in spellings(word):
                known = out.get(form, ())
                out[form] = known if ours in known else (*known, ours)
    return out
