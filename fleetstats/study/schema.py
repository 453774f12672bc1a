"""Plain TOML tables to the dataclasses of the settings: strictly, and telling everything wrong.

The dataclasses are the schema. Each wrong key or value becomes one sentence that opens with the
key's path; nothing is raised here, so that a user sees all of them at once.
"""

from __future__ import annotations

import datetime as dt
import math
import types
import typing
from collections.abc import Mapping
from dataclasses import MISSING, Field, fields
from typing import Any, TypeVar

from fleetstats.core.screen import screen_line
from fleetstats.study.slips.likely import likely_value
from fleetstats.vocabulary.nearest import did_you_mean

T = TypeVar("T")

FLAT_TABLES = {"treat": "actions"}
"""Tables whose every entry belongs to one dictionary: the user writes ``[treat]`` directly."""

MAX_ITEMS = 1_000
MAX_TEXT = 2_000


def default_of(f: Field[Any]) -> Any:
    """Return the default of a key, made anew where it is a factory's."""
    if f.default_factory is not MISSING:
        return f.default_factory()
    return None if f.default is MISSING else f.default


def load_keys(cls: type[T], raw: Any, path: str, problems: list[str]) -> tuple[T, set[str]]:
    """Build one table of settings from what the study file holds.

    Parameters
    ----------
    cls : type
        Dataclass whose fields were declared with `key`.
    raw : mapping
        The table as read.
    path : str
        Where it stands, such as ``question``.
    problems : list of str
        Receives one sentence for each thing wrong.

    Returns
    -------
    tuple
        The table, with the default wherever a value was wrong, and the keys that were set.
    """
    known = {f.name: f for f in fields(cls)}  # type: ignore[arg-type]
    if not isinstance(raw, Mapping):
        problems.append(f"{path}: must be a table ([{path}]), not {show(raw)}.")
        raw = {}
    hints = typing.get_type_hints(cls)
    values: dict[str, Any] = {}
    chosen: set[str] = set()
    for name, value in raw.items():
        if name not in known:
            problems.append(f"{path}.{name}: unknown key. {did_you_mean(name, known)}")
            continue
        f = known[name]
        chosen.add(name)
        out, wrong = _convert(value, hints[name], f)
        if wrong:
            problems.append(f"{path}.{name} = {show(value)}: {wrong}")
        else:
            values[name] = out
    for name, f in known.items():
        blank = isinstance(values.get(name), str) and not values[name].strip()
        if f.metadata.get("required") and (name not in chosen or blank):
            said = "is empty" if blank else "is missing"
            problems.append(f"{path}.{name}: {said}. {f.metadata['doc']}")
        if name not in values:
            values[name] = default_of(f)
    return cls(**values), chosen


def show(value: Any) -> str:
    """Return a value as it would stand in the study file, shortened."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, dt.date | dt.time):
        text = value.isoformat()
    elif isinstance(value, list | tuple):
        text = "[" + ", ".join(show(v) for v in list(value)[:8]) + "]"
    elif isinstance(value, Mapping):
        text = "{" + ", ".join(f"{k} = {show(v)}" for k, v in list(value.items())[:4]) + "}"
    else:
        text = repr(value)
    text = screen_line(text)
    return text if len(text) <= 80 else text[:77] + "..."


def _convert(value: Any, hint: Any, f: Field[Any]) -> tuple[Any, str]:
    """Return (converted value, what is wrong); the latter is empty when nothing is."""
    origin = typing.get_origin(hint)
    if origin in (types.UnionType, typing.Union):
        hint = next(a for a in typing.get_args(hint) if a is not type(None))
        origin = typing.get_origin(hint)
    if origin is tuple:
        return _list(value, typing.get_args(hint)[0], f)
    if origin is dict or hint is dict:
        return _table(value, (*typing.get_args(hint), Any, Any)[1])
    out, wrong = _scalar(value, hint)
    wrong = wrong or limits(out, f.metadata)
    return out, f"{wrong} {_perhaps(value, hint, f)}".strip() if wrong else ""


def _perhaps(value: Any, hint: Any, f: Field[Any]) -> str:
    """Return what was likely meant, where that would be right; empty where it is not plain."""
    if isinstance(value, str) and hint in (float, int, bool, dt.date):
        meant = likely_value(value)
        kinds = {bool: meant in ("true", "false"), dt.date: "-" in meant[1:]}
        fits = kinds.get(hint, bool(meant) and meant[0].isdigit() and "-" not in meant)
        return f"Perhaps {meant}." if meant and fits else ""
    percent = isinstance(value, int | float) and not isinstance(value, bool) and 1 < value < 100
    if percent and hint is float and not limits(value / 100, f.metadata):
        return f"Perhaps {value / 100:.10g}, which is {value:g} %."
    return ""


def _scalar(value: Any, hint: Any) -> tuple[Any, str]:
    if hint is Any:
        return value, ""
    if hint is bool:
        return value, "" if isinstance(value, bool) else "must be true or false."
    if hint is int:
        if isinstance(value, bool) or not isinstance(value, int):
            return None, "must be a whole number."
        return value, "" if abs(value) < 2**63 else "must fit in 63 bits."
    if hint is float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            return None, "must be a number, without quotation marks."
        if isinstance(value, int) and abs(value) > 2**63:
            return None, "must be a smaller number."
        return float(value), "" if math.isfinite(value) else "must be a finite number."
    if hint is str:
        if not isinstance(value, str):
            return None, "must be a text in quotation marks."
        if len(value) > MAX_TEXT or any(not c.isprintable() and c != "\t" for c in value):
            return None, f"must be one line of at most {MAX_TEXT} printable characters."
        return value, ""
    if hint is dt.date:
        # A date with a time is a date in Python's eyes; the study file means days.
        if isinstance(value, dt.datetime) or not isinstance(value, dt.date):
            return None, "must be a date without quotation marks, such as 2026-03-31."
        if not 1950 <= value.year <= 2199:
            return None, "must be a date between 1950 and 2199."
        return value, ""
    return value, ""


def _list(value: Any, item: Any, f: Field[Any]) -> tuple[Any, str]:
    if not isinstance(value, list):
        return None, "must be a list in square brackets."
    if len(value) > MAX_ITEMS:
        return None, f"must have at most {MAX_ITEMS} items."
    out = []
    for i, v in enumerate(value, start=1):
        if typing.get_origin(item) is dict or item is dict:
            x, wrong = _table(v, Any)
        else:
            x, wrong = _scalar(v, item)
            wrong = wrong or limits(x, f.metadata)
        if wrong:
            return None, f"item {i}, {show(v)}: {wrong}"
        out.append(x)
    return tuple(out), ""


def _table(value: Any, item: Any) -> tuple[Any, str]:
    if not isinstance(value, dict):
        return None, "must be a table (name = value)."
    if len(value) > MAX_ITEMS:
        return None, f"must have at most {MAX_ITEMS} entries."
    for k, v in value.items():
        _, wrong = _scalar(v, item)
        if wrong:
            return None, f"'{k}' = {show(v)}: {wrong}"
    return dict(value), ""


def limits(value: Any, meta: Mapping[str, Any]) -> str:
    """Say how a value breaks the limits or the allowed words of its key; empty if it does not."""
    choices = meta.get("choices") or ()
    if choices and value not in choices:
        words = [c for c in choices if c]
        return f"must be one of {', '.join(show(c) for c in words)}. {_near(value, words)}".strip()
    low, high = meta.get("low"), meta.get("high")
    if isinstance(value, int | float) and not isinstance(value, bool):
        if not math.isfinite(value):
            return "must be a finite number."
        too_low = low is not None and (value <= low if meta.get("open_low") else value < low)
        too_high = high is not None and (value >= high if meta.get("open_high") else value > high)
        if too_low or too_high:
            return f"must be {range_text(meta)}."
    return ""


def _near(value: Any, words: list[str]) -> str:
    said = did_you_mean(str(value), words)
    return said if said.startswith("Did") else ""


def range_text(meta: Mapping[str, Any]) -> str:
    """Return the limits of a key in words."""
    parts = []
    if meta.get("low") is not None:
        parts.append(f"{'above' if meta.get('open_low') else 'at least'} {meta['low']:g}")
    if meta.get("high") is not None:
        parts.append(f"{'below' if meta.get('open_high') else 'at most'} {meta['high']:g}")
    return " and ".join(parts)
