"""What a piece of a study's work asks for: noted as it runs, so that nobody has to list it.

A chapter is given a base that answers as the plain one and notes every part that is looked at, the
keys of the settings among them. What it came to depends on no more than that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, fields
from sys import _getframe
from time import process_time
from typing import Any

from fleetstats.advice.results import Results
from fleetstats.chapters.registry import CHAPTERS
from fleetstats.core.value import Value
from fleetstats.records.reading import Records
from fleetstats.spells.build import Built
from fleetstats.studies.reads import Reads, is_copying, telling
from fleetstats.study.study import Study

OPENED = {"study": Study, "records": Records, "built": Built}
"""Parts of which only the fields that were looked at count."""

EVERY = "*"
"""Listener where all chapters before were looked at."""


@dataclass(frozen=True, slots=True)
class AskedFor:
    """What was asked for.

    Parameters
    ----------
    settings : tuple of str
        Keys, as ``table.key``.
    parts : tuple of str
        Fields of `Results`; of `OPENED` parts, as ``part.field``.
    chapters : tuple of str
        Keys of chapters before.
    """

    settings: tuple[str, ...]
    parts: tuple[str, ...]
    chapters: tuple[str, ...]


class Listener:
    """What was asked for so far."""

    def __init__(self) -> None:
        self._settings = Reads()
        self._parts = Reads()
        self._chapters = Reads()

    @property
    def asked(self) -> AskedFor:
        """Return it as a value."""
        return AskedFor(self._settings.keys, self._parts.keys, self._chapters.keys)

    def base(self, base: Results) -> Results:
        """Return an equal base that notes what is asked of it.

        Parameters
        ----------
        base : Results
            Plain.
        """
        given: dict[str, Any] = {f.name: getattr(base, f.name) for f in fields(Results)}
        settings = telling(base.study.settings, self._settings)
        for name, kind in OPENED.items():
            own = {f.name: getattr(given[name], f.name) for f in fields(kind)}
            if name == "study":
                own["settings"] = settings
            given[name] = _noting(kind, own, f"{name}.", self._parts.add)
        made: Results = _noting(Results, given, "", self._parts.add)
        return made

    def chapters(self, done: Mapping[str, Value]) -> Mapping[str, Value]:
        """Return equal chapters that note which are asked for."""
        return _HeardChapters(done, self._chapters.add)


@dataclass(frozen=True, slots=True)
class Worked:
    """A chapter's value, what it asked for, if noted, and the processor's seconds that it took."""

    value: Value | None
    asked: AskedFor | None = None
    seconds: float = 0.0


Work = Callable[[Results, Mapping[str, Value]], Value | None]
"""Works out a chapter from a base and the chapters before it."""


def work_noting(
    key: str, base: Results, done: Mapping[str, Value], work: Work | None = None
) -> Worked:
    """Work out a chapter, by `work` or as it is itself, and note what it asks for."""
    heard, begun = Listener(), process_time()
    work = work or CHAPTERS[key].work_out
    found = work(heard.base(base), heard.chapters(done))
    return Worked(found, heard.asked, process_time() - begun)


SILENT = frozenset({*OPENED, "study.settings"})
"""Looking at these alone tells nothing: what is asked of them is noted."""


def _noting(
    kind: type, given: Mapping[str, Any], before: str, note: Callable[[str], None]
) -> Any:  # fmt: skip
    """Return a value whose class notes which of its fields are looked at."""
    keys = frozenset(given)
    fresh: set[str] = set()

    def look(self: Any, key: str) -> Any:
        if key in fresh and not is_copying(_getframe(1)):
            note(before + key)
            fresh.discard(key)
        return object.__getattribute__(self, key)

    def packed(self: Any) -> Any:
        for key in (k for k in keys if before + k not in SILENT):
            note(before + key)
        return _plain_value, (kind, {k: object.__getattribute__(self, k) for k in keys})

    told = type(
        kind.__name__, (kind,), {"__slots__": (), "__getattribute__": look, "__reduce__": packed}
    )
    made = told(**given)
    fresh.update(k for k in keys if before + k not in SILENT)  # what makes it asks nothing
    return made


def _plain_value(kind: type, given: dict[str, Any]) -> Any:
    """Return a plain value, as another process reads it."""
    return kind(**given)


class _HeardChapters(Mapping[str, Value]):
    """Chapters before that note which are asked for."""

    def __init__(self, done: Mapping[str, Value], note: Callable[[str], None]) -> None:
        self._done, self._note = done, note

    def __getitem__(self, key: str) -> Value:
        self._note(key)
        return self._done[key]

    def __iter__(self) -> Iterator[str]:
        self._note(EVERY)
        return iter(self._done)

    def __len__(self) -> int:
        self._note(EVERY)
        return len(self._done)
