"""What the verbs print as JSON, and where two such answers first differ."""

from __future__ import annotations

import fnmatch
import json
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from changes import Change, Move

PROVENANCE = frozenset(
    {"file", "files", "row", "rows_at", "sheet", "column", "sha256", "digest", "size_bytes",
     "sources", "provenance", "folder", "path", "report_id", "settings", "chosen", "assumptions"}
)  # fmt: skip
"""Keys that say where something was read and what the study file says; a rewriting changes both."""


NEAR = 0.05
"""Relative difference up to which two means over 2,000 random draws are near."""


@dataclass(frozen=True)
class Verb:
    """A verb that prints JSON, with its option. `heavy` ones run in the slow tests alone."""

    name: str
    heavy: bool = False

    def run(self, folder: Path, *, at: Path) -> dict[str, Any]:
        """Return what the verb prints for a study folder, with its exit code."""
        words = self.name.split()
        return run_verb([*words, str(folder)], at if words[0] == "study" else None)


def run_verb(arguments: list[str], out: Path | None = None) -> dict[str, Any]:
    """Return what a verb prints as JSON, with its exit code; a report goes to `out`."""
    from click.testing import CliRunner

    from fleetstats.cli import main

    told = ["--json", "--quiet", *(("--out", str(out)) if out else ())]
    told += ["--workers", "1"] if arguments[0] == "portfolio" else []
    done = CliRunner().invoke(main, [*arguments, *told])
    if not done.stdout:
        return {"exit": done.exit_code, "said": done.stderr, "error": repr(done.exception)}
    return {"exit": done.exit_code} | json.loads(done.stdout)


VERBS: tuple[Verb, ...] = (
    Verb("check"),
    Verb("claim"),
    Verb("plan"),
    Verb("pool"),
    Verb("causes"),
    Verb("events"),
    Verb("hidden"),
    Verb("sources"),
    Verb("removals"),
    Verb("interval"),
    Verb("trends"),
    Verb("outlook"),
    Verb("forecast"),
    Verb("bench"),
    Verb("study --chunks", heavy=True),
    Verb("study", heavy=True),
)
"""Every verb that prints an answer on one study as JSON."""


def strip(value: Any) -> Any:
    """Return an answer without what says where it was read."""
    if isinstance(value, dict):
        return {k: strip(v) for k, v in value.items() if k not in PROVENANCE}
    if isinstance(value, list):
        return [strip(v) for v in value]
    if isinstance(value, str):
        return _FILE.sub("(file)", _ROWS.sub("(rows)", value))
    return value


_ROWS = re.compile(r"\brows? \d+(?:(?:, | and )\d+)*")
_FILE = re.compile(r"[\w-]+\.csv\b")


@dataclass(frozen=True)
class Difference:
    """The first figure in which two answers differ."""

    path: str
    old: Any
    new: Any

    def __str__(self) -> str:
        return f"{self.path}: {_short(self.old)} became {_short(self.new)}"


def differences(verb: str, old: Any, new: Any, change: Change) -> Iterator[Difference]:
    """Yield every figure in which two answers differ and that the change may not move."""
    yield from _differ(strip(old), strip(new), change, verb)


def _differ(old: Any, new: Any, change: Change, path: str) -> Iterator[Difference]:
    move = _move(change, path)
    if move is not None and move.how == "any":
        return
    if isinstance(old, dict) and isinstance(new, dict):
        for key in dict.fromkeys((*old, *new)):
            at = f"{path}.{key}"
            if key not in old or key not in new:
                if _move(change, at) is None:
                    yield Difference(at, old.get(key), new.get(key))
            else:
                yield from _differ(old[key], new[key], change, at)
    elif isinstance(old, list) and isinstance(new, list):
        if len(old) != len(new):
            yield Difference(f"{path} (length)", len(old), len(new))
            return
        if move is not None and move.how == "order":
            old, new = (sorted(x, key=lambda v: _sort_key(v, change)) for x in (old, new))
        for i, (a, b) in enumerate(zip(old, new, strict=True)):
            yield from _differ(a, b, change, f"{path}.{i}")
    elif not _same(old, new, change) and not (
        move is not None and move.how == "near" and math.isclose(old, new, rel_tol=NEAR)
    ):
        yield Difference(path, old, new)


def _move(change: Change, path: str) -> Move | None:
    plain = re.sub(r"\.\d+(?=\.|$)", ".#", path)
    return next((m for m in change.may_move if fnmatch.fnmatchcase(plain, m.path)), None)


def _same(old: Any, new: Any, change: Change) -> bool:
    if isinstance(old, str) and isinstance(new, str):
        return old == new or (change.respells and spoken(old) == spoken(new))
    if isinstance(old, bool) or isinstance(new, bool):
        return old is new
    if isinstance(old, float | int) and isinstance(new, float | int):
        return old == new or math.isclose(old, new, rel_tol=change.close, abs_tol=0.0)
    return bool(old == new) and type(old) is type(new)


def spoken(text: str) -> str:
    """Return a text without case, and without hyphens, underscores and blanks between letters."""
    return re.sub(r"(?<=\w)[-_\s]+(?=\w)", "", text.replace("_", "-").casefold())


def _sort_key(value: Any, change: Change) -> str:
    text = json.dumps(value, sort_keys=True)
    text = re.sub(r"-?\d+\.\d+(e[-+]?\d+)?", lambda m: f"{float(m[0]):.6g}", text)
    return spoken(text) if change.respells else text


def _short(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 160 else text[:157] + "…"
