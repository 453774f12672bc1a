"""The study file that goes with hidden records: every setting that acts, no word of anybody."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import fields, replace
from typing import Any

from fleetstats.report.bundle.hiding.cells import Hider, hide_build
from fleetstats.report.bundle.hiding.files import OpenFile, Written
from fleetstats.study.record_settings import RecordKeys
from fleetstats.study.schema import FLAT_TABLES, default_of
from fleetstats.study.settings import Settings
from fleetstats.study.study import Study
from fleetstats.vocabulary.endings import ENDINGS_BY_WORD
from fleetstats.vocabulary.events import EVENTS_BY_WORD
from fleetstats.vocabulary.fields.categories import known_levels, level_of

TITLE = "A fleet under pseudonyms"
TOLD_AT_HOME = "told by the maker of this bundle"
"""Stands where a setting must say where something comes from."""
SERIALS = "serials.csv"
FREE = (
    "study.title", "question.name", "evidence.prior_source", "base_rate.source",
    "base_rate.definition", "delay.prior_source", "leakdown.makers_source", "bench.stress_name",
    "bench.field_mode_proof",
)  # fmt: skip
"""Settings that hold free text; none leaves unless the maker names it."""
LEFT_OUT = ("study.asked_by", "study.decided_by")
CAUSES = ("causes", "censoring_causes", "outside_causes", "not_renewed_causes")
_ROW = re.compile(r"^(?P<file>.*) row (?P<row>\d+)$")


def hide_settings(
    study: Study, hider: Hider, files: Sequence[OpenFile], written: Sequence[Written],
    *, serials: bool, keep: Collection[str],
) -> str:  # fmt: skip
    """Return the study file of the hidden records.

    Parameters
    ----------
    study : Study
        The original.
    hider : Hider
        What stands for names, words and figures.
    files, written : sequence
        Its record files, and as they were written anew.
    serials : bool
        Whether a list of serials goes along.
    keep : collection of str
        Settings of `FREE` whose text leaves as it stands.
    """
    s = _hidden(study.settings, hider, files, written, keep)
    if serials:
        s = replace(s, fleet=replace(s.fleet, serials_file=SERIALS))
    lines: list[str] = []
    for table in fields(s):
        keys, flat = getattr(s, table.name), FLAT_TABLES.get(table.name)
        for x in fields(keys):
            path, now = f"{table.name}.{x.name}", getattr(keys, x.name)
            if path not in study.chosen or path in LEFT_OUT or now is None:
                continue
            told = now.items() if x.name == flat else [(x.name, now)]
            if f"[{table.name}]" not in lines:
                lines.append(f"[{table.name}]")
            lines += [f"{_key(k)} = {toml_value(v)}" for k, v in told]
    for f, w in zip(files, written, strict=True):
        lines += ["", "[[records]]", *_of_file(f, w, hider)]
    return "\n".join([*lines, ""])


def _hidden(
    s: Settings, hider: Hider, files: Sequence[OpenFile], written: Sequence[Written],
    keep: Collection[str],
) -> Settings:  # fmt: skip
    h, cause = hider, hider.words.cause
    for path in (p for p in FREE if p not in keep):
        table, _, name = path.partition(".")
        keys = getattr(s, table)
        now = TITLE if path == "study.title" else TOLD_AT_HOME
        if path == "question.name":
            now = default_of(next(f for f in fields(keys) if f.name == name))
        if getattr(keys, name):
            s = replace(s, **{table: replace(keys, **{name: now})})
    q = replace(s.question, rules=tuple(_rule(r, i, h) for i, r in enumerate(s.question.rules, 1)))
    for name in CAUSES:
        hidden: Any = {name: tuple(cause(c) for c in getattr(q, name))}
        q = replace(q, **hidden)
    merge = replace(
        s.merge,
        same_population=tuple(h.names.source(x) for x in s.merge.same_population),
        decisions=tuple(_decision(d, h, files, written) for d in s.merge.decisions),
    )
    return replace(
        s,
        question=q,
        merge=merge,
        groups=replace(
            s.groups, build_order=tuple(hide_build(b, h.names) for b in s.groups.build_order)
        ),
        check=replace(
            s.check, undetectable_causes=tuple(cause(c) for c in s.check.undetectable_causes)
        ),
        bench=replace(
            s.bench,
            mode=cause(s.bench.mode),
            field_causes=tuple(cause(c) for c in s.bench.field_causes),
            build=hide_build(s.bench.build, h.names),
        ),
        categories=_categories(s, h),
    )


def _rule(rule: Mapping[str, Any], number: int, h: Hider) -> dict[str, Any]:
    out = dict(rule) | {"reason": f"rule {number} of the maker"}
    for name, hidden in (
        ("source", h.names.source),
        ("cause", h.words.cause),
        ("build", lambda b: hide_build(b, h.names)),
    ):
        if out.get(name):
            out[name] = hidden(str(out[name]))
    return out


def _decision(
    told: Mapping[str, Any], h: Hider, files: Sequence[OpenFile], written: Sequence[Written]
) -> dict[str, Any]:
    out = dict(told) | {"engine": h.names.engine(str(told.get("engine", "")))}
    if "reason" in out:
        out["reason"] = TOLD_AT_HOME
    row = _ROW.match(str(out.get("take", "")))
    for f, w in zip(files, written, strict=True):
        if row and f.file.file == row["file"] and int(row["row"]) in w.places:
            out["take"] = f"{w.name} row {w.places[int(row['row'])]}"
    return out


def _categories(s: Settings, h: Hider) -> Any:
    c = s.categories

    def shown(column: str, word: str) -> str:
        level = level_of(column, word, c.words)
        return h.names.other(level or word, "level") if not known_levels(column, c.words) else (
            level or word
        )  # fmt: skip

    at = []
    for pair in c.at:
        column, _, word = pair.partition("=")
        at.append(f"{column}={shown(column, word)}" if column in c.columns else pair)
    words = {n: {x: x for x in dict.fromkeys(m.values())} for n, m in c.words.items()}
    return replace(c, words=words, at=tuple(at))


def _of_file(f: OpenFile, w: Written, h: Hider) -> list[str]:
    words = h.words
    maps: dict[str, dict[str, str]] = {
        "columns": w.columns,
        "endings": {words.mapped(k, ENDINGS_BY_WORD): v for k, v in f.file.endings.items()},
        "kinds": {words.mapped(k, EVENTS_BY_WORD): v for k, v in f.file.kinds.items()},
        "causes": {words.mapped_cause(k): words.cause(v) for k, v in f.file.causes.items()},
    }
    observed = f.file.observed_from
    now: dict[str, Any] = {
        "file": w.name,
        "source": h.names.source(f.file.source),
        "sheet": "",
        "observed_from": None if observed is None else h.steps.first_day(observed),
        **maps,
    }
    out = []
    for x in fields(RecordKeys):
        told = now.get(x.name, getattr(f.file, x.name))
        if told is not None and told != default_of(x):
            out.append(f"{x.name} = {toml_value(told)}")
    return out


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else _quoted(name)


def toml_value(value: object) -> str:
    """Write one value as TOML; strings are escaped, so that no text can become a key."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, tuple | list):
        return "[" + ", ".join(toml_value(v) for v in value) + "]"
    if isinstance(value, dict):
        inner = ", ".join(f"{_quoted(str(k))} = {toml_value(v)}" for k, v in value.items())
        return "{ " + inner + " }"
    return _quoted(str(value))


def _quoted(text: str) -> str:
    out = []
    for c in text:
        if c in ('"', "\\"):
            out.append("\\" + c)
        elif ord(c) < 32 or ord(c) == 127:
            out.append(f"\\u{ord(c):04x}")
        else:
            out.append(c)
    return '"' + "".join(out) + '"'
