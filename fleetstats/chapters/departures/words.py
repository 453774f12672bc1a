"""Sentences on departures: what a setting does, what it changed, and the short form."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from fleetstats.chapters.departures.values import Departure
from fleetstats.core.units import text_percent
from fleetstats.document.blocks import METERS
from fleetstats.records.undone import Undone
from fleetstats.study.assumptions import text_value
from fleetstats.study.leaves import Leaf
from fleetstats.study.study import MENDS_FILE
from fleetstats.study.study_checks import read_factor
from fleetstats.vocabulary.endings import ENDINGS
from fleetstats.vocabulary.findings import FINDINGS
from fleetstats.vocabulary.wording import count, listed

LINES_SHOWN = 6
"""Lines of the short form on a first page; the table has all."""

NAMED = 5
"""Settings named at a prompt."""

_CLAUSE = re.compile(r"[;:] |\. ")
"""Where the first clause of a description ends."""

TREATED = {"set-aside": "set aside", "accept": "used all the same", "stop": "not used: they stop"}

NONE_TURNS = "Every setting that can turn a verdict stands at its documented default."


RENEWED_SAID = {"all": "the whole engine", "part": "one part of it", "nothing": "nothing"}
"""What a repair renewed, in words."""


def say_setting(leaf: Leaf) -> str:
    """Say what a setting that departs does, as a sentence without its full stop."""
    now, file = text_value(leaf.value), f" of {leaf.file}" if leaf.file else ""
    table = table_of_key(leaf.key, leaf.file)
    if leaf.name and table in ("endings", "kinds"):
        return f"“{leaf.name}”{file} is read as {ours(now)}"
    if leaf.name and table == "causes":
        return f"The cause “{leaf.name}”{file} is read as {ours(now)}"
    if leaf.name and table == "renews":
        return f"“{leaf.name}”{file} is taken to have renewed {RENEWED_SAID.get(now, now)}"
    if leaf.name and table == "columns":
        return f"The column “{now}”{file} is read as {leaf.name.replace('_', ' ')}"
    if leaf.name and table == "treat":
        told = FINDINGS[leaf.name].meaning.rstrip(".") if leaf.name in FINDINGS else leaf.name
        return f"Rows with the finding “{told}” are {TREATED.get(now, now)} ({leaf.name})"
    if isinstance(leaf.value, dict) and "counts_as" in leaf.value:
        return f"Rule {leaf.key.partition('[')[2][:-1]} of the question: {say_rule(leaf.value)}"
    if leaf.key.startswith("hours.factors."):
        factor, low, high = read_factor(leaf.value) or (1.0, 1.0, 1.0)
        return f"One {leaf.name} hour counts as {factor:g} h, {low:g} to {high:g}"
    if leaf.key.startswith("clocks.doubts."):
        doubt = text_percent(float(leaf.value))
        return f"Clocks that show {METERS.get(leaf.name, leaf.name)} may be wrong by {doubt}"
    key = leaf.key.partition(".")[2] if leaf.file else leaf.key
    what = f"{plain_name(leaf.doc) or key}{file}"
    if isinstance(leaf.value, tuple) and leaf.default and isinstance(leaf.default, tuple):
        return f"{what}: {say_list(leaf.value, leaf.default)} ({key})"
    none = leaf.default in (None, "", ())
    return f"{what}: {now}; by default {'none' if none else text_value(leaf.default)} ({key})"


def plain_name(doc: str) -> str:
    """Return what a setting is in plain words: the first clause of its description.

    >>> plain_name("Failure level.")
    'Failure level'
    """
    return _CLAUSE.split(doc, maxsplit=1)[0].rstrip(".")


def say_value(leaf: Leaf) -> str:
    """Say what holds; a rule as it is said elsewhere."""
    if isinstance(leaf.value, dict) and "counts_as" in leaf.value:
        return say_rule(leaf.value)
    return text_value(leaf.value)


def table_of_key(key: str, file: str) -> str:
    """Return the table that a setting stands in: of the study file, or of one of its files."""
    head, _, rest = key.partition(".")
    return rest.partition(".")[0] if file else head


def say_list(now: tuple[Any, ...], usual: tuple[Any, ...]) -> str:
    """Say in what a list differs from the usual one."""
    added = [text_value(x) for x in now if x not in usual]
    gone = [text_value(x) for x in usual if x not in now]
    parts = [f"adds {listed(added)}"] if added else []
    parts += [f"leaves out {listed(gone)}"] if gone else []
    return listed(parts) or f"is {text_value(now)}, in another order than by default"


def ours(word: str) -> str:
    """Write a word of ours for a reader: "planned overhaul"; a cause stands as it is."""
    return word.replace("-", " ") if word in ENDINGS else word


def say_rule(rule: dict[str, Any]) -> str:
    """Say a rule of the question: on what condition what counts as what, and why."""
    conditions = [f"{k} {text_value(v)}" for k, v in rule.items() if k not in ("counts_as",
                                                                             "reason")]  # fmt: skip
    return f"{listed(conditions)} counts as {rule['counts_as']} (“{rule['reason']}”)"


def of_what(undone: Undone) -> str:
    """Say of what kind those are that a setting turned."""
    return "failures" if undone.failures == undone.turned else "failures or findings"


def say_map(undone: Undone, table: str) -> str:
    """Say what a map changed."""
    if table == "columns":
        return f"{count(undone.turned, 'row')} of the column not read tell of {of_what(undone)}"
    if not undone.n:
        return "in no row"
    rows = count(undone.n, "row")
    if not undone.turned:
        return rows
    part = "all of them" if undone.turned == undone.n else f"{undone.turned:,} of them"
    return f"{rows}, {part} {of_what(undone)} by the word itself"


def say_question(undone: Undone | None, one: str) -> str:
    """Say what a key or rule of the question changed, in lives (or rows)."""
    many = f"{one[:-2]}ves" if one.endswith("fe") else ""
    if undone is None or not undone.n:
        return f"no {one} counts differently for it"
    moves = [f"{count(n, one, many)} from {say_move(m)}" for m, n in undone.moves.items()]
    return listed(moves) or f"{count(undone.n, one, many)}, none counted otherwise"


def say_move(move: str) -> str:
    """Say from what to what a life moved: "failure to failure from another cause"."""
    return move.replace("competing", "failure from another cause")


def every_line(items: Sequence[Departure]) -> tuple[str, ...]:
    """Return a line for each departure, in the order of the short form."""
    order = sorted(items, key=lambda d: (-d.turned, not d.turns, _place(d)))
    return tuple(_one(d) for d in order)


def short_lines(items: Sequence[Departure], otherwise: str) -> tuple[str, ...]:
    """Return the short form: those that can turn a verdict first, worst first, one line each.

    Maps of columns, treatments and words that turned nothing are told by how many they are.

    Parameters
    ----------
    items : sequence of Departure
        All departures.
    otherwise : str
        Where the others stand.
    """
    if not any(d.turns for d in items):
        return (NONE_TURNS, *_rest(len(items), 0, otherwise))
    order = sorted(items, key=lambda d: (-d.turned, not d.turns, _place(d)))
    lines: list[tuple[str, int, int]] = []
    done: set[str] = set()
    for d in order:
        alike = [x for x in order if _kind(x) == _kind(d)] if _kind(d) else [d]
        if d.key in done or (not d.turns and not d.turned):
            continue
        done |= {x.key for x in alike}
        text = _one(d) if len(alike) == 1 else _several(alike)
        lines.append((text, len(alike), sum(x.turns for x in alike)))
    shown = lines[:LINES_SHOWN]
    left = len(items) - sum(n for _, n, _ in shown)
    turning = sum(x.turns for x in items) - sum(t for _, _, t in shown)
    return (*(text for text, _, _ in shown), *_rest(left, turning, otherwise))


def _place(d: Departure) -> int:
    """Return the place of a departure that turned nothing: what is asked before how it is read."""
    table = table_of_key(d.key, d.file)
    if not d.file:
        return 2 if table == "treat" else 0
    return 1 if table in ("endings", "kinds", "causes") else 3


def _kind(d: Departure) -> str:
    """Return what a departure may be told together with; blank for one that is told alone."""
    table = table_of_key(d.key, d.file)
    if d.turned or table not in ("treat", "columns", "endings", "kinds", "causes"):
        return ""
    return f"{d.file} {table}"


def _one(d: Departure) -> str:
    return f"{d.said}{f': {d.effect}' if d.effect else ''}."


def _several(alike: Sequence[Departure]) -> str:
    d, n = alike[0], len(alike)
    names = [x.key.rpartition(".")[2] for x in alike]
    rows = sum(x.n or 0 for x in alike)
    told = f"{count(rows, 'row')}" if rows else "no row"
    if d.key.startswith("treat"):
        return f"{n} kinds of findings are treated as the study says: {told} set aside or used."
    table = table_of_key(d.key, d.file)
    if table == "columns":
        return f"{n} columns of {d.file} are read by the study's word for them: {listed(names)}."
    what = "causes" if table == "causes" else "words for endings and events"
    return f"{n} {what} of {d.file} are read by a map: {told}, none of them a failure otherwise."


def _rest(n: int, turning: int, otherwise: str) -> tuple[str, ...]:
    if not n:
        return ()
    can = f", {turning} of which can turn a verdict" if turning else ""
    more = "departure from a default" if n == 1 else "departures from defaults"
    return (f"{n} further {more}{can}: see {otherwise}.",)


def how_many(items: Sequence[Departure]) -> str:
    """Say how many settings depart, and whether cells were decided on beside them."""
    n = sum(d.key != MENDS_FILE for d in items)
    if n == len(items):
        return count(n, "setting")
    return f"{count(n, 'setting')} and {MENDS_FILE}" if n else MENDS_FILE


def prompt_line(items: Sequence[Departure]) -> str:
    """Say at a prompt how many departures there are and which can turn the verdict."""
    turning = sorted((d for d in items if d.turns), key=lambda d: (-d.turned, _place(d)))
    if not items:
        return "Departures from default: none."
    n = how_many(items)
    if not turning:
        return f"Departures from default: {n}, none of which can turn a verdict."
    names = [d.key for d in turning[:NAMED]]
    if len(turning) > NAMED:
        names.append(f"{len(turning) - NAMED} more")
    return (
        f"Departures from default: {n}, {len(turning)} of which can turn a verdict: "
        f"{listed(names)}."
    )
