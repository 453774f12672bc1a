"""Every setting of a study, one by one: keys, entries of maps, rules, and those of each file."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from fleetstats.core.value import Value, plain, value
from fleetstats.study.key import FACT
from fleetstats.study.record_settings import RecordKeys
from fleetstats.study.schema import FLAT_TABLES, default_of
from fleetstats.vocabulary.endings import ENDINGS_BY_WORD
from fleetstats.vocabulary.events import EVENTS_BY_WORD
from fleetstats.vocabulary.fields.headers import meaning_of, plain_name
from fleetstats.vocabulary.fields.histories import HISTORY_FIELDS, RENEWS_BY_WORD
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.findings import FINDINGS
from fleetstats.vocabulary.fold import fold

if TYPE_CHECKING:
    from fleetstats.study.study import RecordFile, Study

MAPS = ("columns", "endings", "kinds", "causes", "renews")
"""Maps of a record file."""

ELSEWHERE = ("sql", "database")
"""Keys that stand in the digest of a study only where they are set, as few studies do."""

UNMAPPED = "no word of ours"
"""What a word of the records means by itself where the vocabulary does not hold it."""

BY_NAME = "by its own name"
"""How a column is found where no map names it."""


@value
class Leaf(Value):
    """One setting: a key, an entry of a table of names, or a rule.

    Parameters
    ----------
    key : str
        Its path, as messages about the study file name it: ``records[2].endings.failed``.
    value, default : object
        What holds, and what would hold were it not set.
    role : str
        `FACT`, `VERDICT` or `OTHER` of `fleetstats.study.key`.
    file : str
        The record file that it belongs to; blank for settings of the whole study.
    number : int
        Number of that file, from 1; 0 for settings of the whole study.
    name : str
        Of an entry of a map or table its own name, as written; else blank.
    doc : str
        Meaning of its key.
    stated : bool
        Whether the study file states it.
    """

    key: str
    value: Any
    default: Any
    role: str
    file: str = ""
    number: int = 0
    name: str = ""
    doc: str = ""
    stated: bool = True

    @property
    def departs(self) -> bool:
        """Return whether it is another way of answering than the default."""
        return self.role != FACT and not _alike(self.value, self.default)


def leaves_of(study: Study) -> tuple[Leaf, ...]:
    """Return every setting of a study in the order of its declaration, files last."""
    told = {f.pattern: i for i, f in reversed(list(enumerate(study.files, 1))) if f.pattern}
    # files of one pattern have the same settings: those of the first stand for all
    alone = [(i, f) for i, f in enumerate(study.files, 1) if told.get(f.pattern, i) == i]
    return (*_of_study(study), *(x for i, f in alone for x in _of_file(f, i,
            study.settings.hours.meter)))  # fmt: skip


def departs_in(study: Study, table: str) -> bool:
    """Return whether any setting of one table departs from its default; no other is looked at."""
    return any(x.departs for x in _of_study(study, table))


def settings_digest(study: Study) -> str:
    """Return the SHA-256 of every setting of a study, those of its files and its maps included.

    Comments, blank lines and the order of keys do not count; the order of files, rules and lists
    does, and so does which keys the study file states, since the report says so of each.
    """
    content = {
        "settings": plain(study.settings),
        "files": [{f.name: plain(getattr(x, f.name)) for f in fields(RecordKeys)
                   if f.name not in ELSEWHERE or getattr(x, f.name)} for x in study.files],
        "stated": sorted(study.chosen),
    }  # fmt: skip
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


def _of_study(study: Study, only: str = "") -> Iterator[Leaf]:
    for table in fields(study.settings):
        if only not in ("", table.name):
            continue
        keys = getattr(study.settings, table.name)
        for f in fields(keys):
            path = table.name if FLAT_TABLES.get(table.name) == f.name else f"{table.name}.{f.name}"
            now, usual = getattr(keys, f.name), default_of(f)
            about = {"role": f.metadata["role"], "doc": f.metadata["doc"],
                     "stated": f"{table.name}.{f.name}" in study.chosen}  # fmt: skip
            if isinstance(now, dict):
                for name, x in now.items():
                    by_itself = _usual_action(name) if table.name == "treat" else None
                    yield Leaf(
                        key=_path(path, name), value=x, default=by_itself, name=name, **about
                    )
            elif isinstance(now, tuple) and any(isinstance(x, dict) for x in now):
                for i, x in enumerate(now, start=1):
                    yield Leaf(key=f"{path}[{i}]", value=x, default=None, **about)
            else:
                yield Leaf(key=path, value=now, default=usual, **about)


def _of_file(file: RecordFile, number: int, standard: str) -> Iterator[Leaf]:
    for f in fields(RecordKeys):
        path = f"records[{file.number or number}].{f.name}"
        now: Any = getattr(file, f.name)
        if f.name == "file":
            now = (file.origin if not file.sql else "") or file.named
        about = {"role": f.metadata["role"], "doc": f.metadata["doc"], "file": file.named,
                 "number": number}  # fmt: skip
        if f.name in MAPS:
            for name, x in now.items():
                usual = _by_itself(f.name, name, x)
                yield Leaf(key=_path(path, name), value=x, default=usual, name=name, **about)
            continue
        # a file whose meter is named as the standard clock is read as one that names none
        usual = standard if f.name == "meter" and now else default_of(f)
        stated = now != default_of(f)
        yield Leaf(key=path, value=now, default=usual, stated=stated, **about)


def _path(path: str, name: str) -> str:
    plain_key = name.isascii() and name.replace("-", "").replace("_", "").isalnum()
    return f"{path}.{name}" if plain_key else f'{path}."{name}"'


def _usual_action(code: str) -> str:
    return FINDINGS[code].usual if code in FINDINGS else ""


def _by_itself(table: str, name: str, now: str) -> str:
    """Return what a word of a file, or a column of ours, would mean without its map."""
    if table == "endings":
        told = meaning_of(name, ENDINGS_BY_WORD)
        return UNMAPPED if told is None else told[0]
    if table == "kinds":
        return meaning_of(name, EVENTS_BY_WORD) or UNMAPPED
    if table == "renews":
        return RENEWS_BY_WORD.get(fold(name), UNMAPPED)
    if table == "causes":
        return now if fold(name) == fold(now) else name
    words = {plain_name(w) for f in (*LIFE_FIELDS, *LOG_FIELDS, *HISTORY_FIELDS) if f.name == name
             for w in (f.name, *f.words)}  # fmt: skip
    return now if plain_name(now) in words else BY_NAME


def _alike(a: Any, b: Any) -> bool:
    if isinstance(a, bool) or isinstance(b, bool):
        return a is b
    return bool(a == b)
