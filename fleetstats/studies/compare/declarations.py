"""What each of two studies declared before its records were drawn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fleetstats.chapters.declared import say_standing
from fleetstats.core.provenance import SourceFile
from fleetstats.records.serials import read_serials
from fleetstats.study.declared import read_declared
from fleetstats.study.study import Study


def say_declarations(
    old: Study, old_sources: Sequence[SourceFile], new: Study, new_sources: Sequence[SourceFile]
) -> tuple[str, ...]:
    """Say of both studies what they declared and changed since; nothing where neither declared.

    Raises
    ------
    SettingError
        If a chain of declarations is broken.
    """
    if not (read_declared(old.folder) or read_declared(new.folder)):
        return ()
    return tuple(_lines((("Earlier", old, old_sources), ("Later", new, new_sources))))


def _lines(sides: Sequence[tuple[str, Study, Sequence[SourceFile]]]) -> Iterator[str]:
    for word, study, sources in sides:
        yield f"{word} study: {say_standing(study, sources, len(read_serials(study)[0]))}"
