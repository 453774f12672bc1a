"""The settings of a study as plain questions: each with its default, and what it changes.

Which settings are asked is not listed here. Every key whose role is a fact or can turn the verdict
is asked (`study.key`); those that the room's words put into plain language come first, in the order
of that file, the rest below with the words of the settings themselves.
"""

from __future__ import annotations

import datetime as dt
import types
import typing
from collections.abc import Callable
from dataclasses import Field, dataclass, fields
from typing import TYPE_CHECKING, Any

from fleetstats.core.errors import DataError
from fleetstats.desk.files import KINDS as FILES
from fleetstats.desk.standing import Standing
from fleetstats.desk.words import words, words_of
from fleetstats.study.key import FACT, OTHER
from fleetstats.study.record_settings import LIFE_SHAPES
from fleetstats.study.scaffold import toml_text
from fleetstats.study.schema import FLAT_TABLES, default_of
from fleetstats.study.settings import Settings
from fleetstats.study.study import Study
from fleetstats.vocabulary.endings import FAILING_ENDINGS
from fleetstats.vocabulary.limits import FEW_FOR_SHAPE
from fleetstats.vocabulary.slugs import suffix_of
from fleetstats.vocabulary.unknown import cause_known

if TYPE_CHECKING:
    from fleetstats.records.reading import Records

KINDS = {bool: "yes", int: "whole", float: "number", str: "text", dt.date: "date"}
"""How a key of a type is asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One setting as it is asked.

    `kind` is one of the values of `KINDS`, ``"choice"`` or ``"list"``; `shown` is what holds now as
    a form shows it, `default` what holds unless somebody chooses, as words.
    """

    table: str
    key: str
    asks: str
    changes: str
    kind: str
    shown: str
    default: str
    choices: tuple[str, ...]
    unit: str
    stated: bool
    required: bool
    first: bool


def questions_of(now: Standing) -> list[Question]:
    """Return what is asked of a study that can be read, the plain questions first."""
    study = now.study
    if study is None:
        return []
    told = words_of("question")["ask"]
    asked = {
        f"{t.name}.{f.name}": q
        for t in fields(Settings)
        if t.name not in FLAT_TABLES and _concerns(t.name, study)
        for f in fields(getattr(study.settings, t.name))
        if (q := _question(study, t.name, f, told.get(f"{t.name}.{f.name}"))) is not None
        and _matters(f"{t.name}.{f.name}", now)
    }
    order = [*(k for k in told if k in asked), *(k for k in asked if k not in told)]
    return [asked[k] for k in order]


def _question(study: Study, table: str, f: Field[Any], told: Any) -> Question | None:
    if f.metadata["role"] == OTHER and told is None:
        return None
    kind = _kind_of(getattr(study.settings, table), f)
    if kind is None:
        return None
    value, default = getattr(getattr(study.settings, table), f.name), default_of(f)
    role = words("question", "fact" if f.metadata["role"] == FACT else "verdict")
    return Question(
        table=table,
        key=f.name,
        asks=told["asks"] if told else f.metadata["doc"],
        changes=told["changes"] if told else role,
        kind=kind,
        shown=_shown(value),
        default=_default(default),
        choices=f.metadata["choices"],
        unit=f.metadata["unit"],
        stated=f"{table}.{f.name}" in study.chosen,
        required=bool(f.metadata["required"]),
        first=told is not None,
    )


def _kind_of(table: Any, f: Field[Any]) -> str | None:
    """Return how a key is asked; None where it is a table of its own and no plain answer."""
    hint = typing.get_type_hints(type(table))[f.name]
    if typing.get_origin(hint) in (types.UnionType, typing.Union):
        hint = next(a for a in typing.get_args(hint) if a is not type(None))
    if f.metadata["choices"]:
        return "choice"
    if typing.get_origin(hint) is tuple:
        return "list" if typing.get_args(hint)[0] is str else None
    return KINDS.get(hint)


def read_answer(now: Standing, table: str, key: str, told: str) -> Any:
    """Return what somebody answered as a value of the study file.

    Raises
    ------
    DataError
        If no such question is asked, or the answer is not of its kind. Limits are the study's own
        to tell.
    """
    q = next((q for q in questions_of(now) if (q.table, q.key) == (table, key)), None)
    if q is None:
        raise DataError(words("question", "not_asked"))
    told = told.strip()
    if q.kind == "list":
        return tuple(x.strip() for x in told.split("\n") if x.strip())
    if q.kind == "yes":
        return told == "yes"
    try:
        if q.kind == "whole":
            return int(told)
        if q.kind == "number":
            number = float(told)
            return int(number) if number == int(number) and abs(number) < 1e15 else number
        if q.kind == "date":
            return dt.date.fromisoformat(told)
    except (ValueError, OverflowError):
        raise DataError(words("question", f"no_{q.kind}", told=told[:40])) from None
    return told


def _shown(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return "\n".join(str(v) for v in value)
    return f"{value:g}" if isinstance(value, float) and value == float(f"{value:g}") else str(value)


def _default(value: Any) -> str:
    if value is None or value == "":
        return words("question", "not_set")
    if isinstance(value, bool):
        return words("question", "yes" if value else "no")
    if isinstance(value, tuple):
        return ", ".join(str(v) for v in value) or words("question", "none")
    return str(value) if isinstance(value, str) else toml_text(value)


def _concerns(table: str, study: Study) -> bool:
    """Return whether a table of settings can concern the kinds of files that a study has."""
    needs: dict[str, Callable[[], bool]] = {
        "portfolio": lambda: False,
        "stress": lambda: False,
        "merge": lambda: len(study.files) > 1 or study.settings.merge.returns,
        "delay": lambda: bool(study.of_shape("checks", "log")),
        "leakdown": lambda: bool(study.of_shape("leakdown")),
        "bench": lambda: bool(study.of_shape("bench")),
        "forecast": lambda: bool(study.of_shape("checks", "log")),
        "looks": lambda: "looks" in {c.partition(".")[0] for c in study.chosen},
    }
    return needs[table]() if table in needs else True


def _matters(path: str, now: Standing) -> bool:
    """Return whether the records leave a question open; one that is answered is shown always."""
    study = now.study
    if study is None or path in study.chosen or now.records is None:
        return True
    rule = MATTERS.get(path)
    return True if rule is None else rule(now.records, study)


Rule = Callable[["Records", Study], bool]


def _failures(records: Records) -> int:
    """Return how many lives may end in the failure in question, as the records tell them."""
    failing = (*FAILING_ENDINGS, "removed-finding")
    return sum(x.count for x in records.rows if x.ending in failing)


def _failed(records: Records, _: Study) -> bool:
    return _failures(records) > 0


def _caused(records: Records, _: Study) -> bool:
    return any(cause_known(x.cause) for x in records.rows)


def _uncaused(records: Records, _: Study) -> bool:
    return any(x.ending in FAILING_ENDINGS and not cause_known(x.cause) for x in records.rows)


def _log(_: Records, study: Study) -> bool:
    return bool(study.of_shape("log"))


def _dated(records: Records, _: Study) -> bool:
    return any(x.last_date is not None for x in records.rows)


def _rated(_: Records, study: Study) -> bool:
    return study.settings.base_rate.per_10000_h is not None


def _in_service(records: Records, _: Study) -> bool:
    return any(x.ending == "running" for x in records.rows)


def _other_meter(records: Records, study: Study) -> bool:
    """Return whether some hours are of no stated meter, or of another than the study counts."""
    standard = study.settings.hours.meter
    files = study.of_shape(*LIFE_SHAPES)
    return any(not f.meter for f in files) or any(x.meter != standard for x in records.rows)


def _overhauled(records: Records, study: Study) -> bool:
    """Return whether hours since new may be others than hours since overhaul.

    Only a log that follows each engine from its first hour, and tells of no overhaul, says no.
    """
    files = study.of_shape(*LIFE_SHAPES)
    if study.settings.hours.component or len(files) != len(study.of_shape("log")):
        return True
    told = any(e.kind == "overhauled" for e in records.events)
    return told or any(x.life != 0 or x.entry_h or x.life_start_h for x in records.rows)


def _unnamed_file(_: Records, study: Study) -> bool:
    """Return whether a file lies in the folder that a list of serials could be."""
    named = {f.path.name for f in study.files}
    return any(suffix_of(p.name) in FILES and p.name not in named for p in study.folder.iterdir())


MATTERS: dict[str, Rule] = {
    "question.causes": _caused,
    "question.censoring_causes": _caused,
    "question.outside_causes": _caused,
    "question.not_renewed_causes": lambda r, s: _caused(r, s) and _failed(r, s),
    "question.unknown_cause": _uncaused,
    "hours.meter": _other_meter,
    "hours.basis": _overhauled,
    "hours.rounded": _failed,
    "hours.log_hours": _log,
    "hours.component": _log,
    "hours.carry_to_analysis_date": _dated,
    "study.since": _dated,
    "fleet.built": lambda records, _: not records.serials,
    "fleet.serials_file": _unnamed_file,
    "fleet.hours_per_year": _in_service,
    "cost.ratio": lambda records, _: _failures(records) >= FEW_FOR_SHAPE,
    "base_rate.source": _rated,
    "base_rate.definition": _rated,
}
"""Questions that some records make idle, each with the rule that says when it matters.

`check.interval_h` has none: the chance of failing before the next check is answered of every fleet.
"""
