"""Question: what is asked of the records, one plain question a line."""

from __future__ import annotations

from typing import Any

from fleetstats.desk.place import DeskPlace, Sent
from fleetstats.desk.questions import questions_of, read_answer
from fleetstats.desk.words import words
from fleetstats.study.edit import set_key, unset_key
from fleetstats.study.scaffold import toml_text


def show(place: DeskPlace, form: Sent) -> dict[str, Any]:
    """Return the questions, those in plain words first."""
    del form
    asked = questions_of(place.reader.stand())
    return {"first": [q for q in asked if q.first], "further": [q for q in asked if not q.first]}


def choose(place: DeskPlace, form: Sent) -> str:
    """Answer one question."""
    table, key = form.text("table"), form.text("key")
    value = read_answer(place.reader.stand(), table, key, form.text("answer"))
    said = f"study.toml: [{table}] {key} = {toml_text(value)}"
    place.desk.edit(form.version, said, lambda t: set_key(t, (table, key), value))
    return words("question", "chosen", key=f"{table}.{key}")


def default(place: DeskPlace, form: Sent) -> str:
    """Take an answer back, so that the default holds."""
    table, key = form.text("table"), form.text("key")
    said = f"study.toml: [{table}] {key}: {words('frame', 'taken_out')}"
    place.desk.edit(form.version, said, lambda t: unset_key(t, (table, key)))
    return words("question", "default_again", key=f"{table}.{key}")


ACTS = {"choose": choose, "default": default}
