"""A chapter that could not be made: a caution in its place, while the rest goes on.

Whatever it raised becomes a sentence with a code, which stands among the cautions of the first
page, in the sentence of a claim that is called supported, and where the chapter would have stood.
Only a setting that cannot be meant stops a study, since its reader can mend that at once.
"""

from __future__ import annotations

import dataclasses
import traceback
import warnings
from collections.abc import Mapping, Sequence
from pathlib import Path

from fleetstats.chapters.chapter import Chapter
from fleetstats.core.errors import FleetstatsError
from fleetstats.document.blocks import say
from fleetstats.document.document import Section
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution

NO_MEMORY = (
    "there was not enough memory for it. Give it more memory, or fewer rows at a time, and run it "
    "again."
)


def fail_chapter(chapter: Chapter, error: Exception) -> Caution:
    """Return the caution of a chapter that raised `error`.

    An error that nobody raised on purpose is a fault of the program: it is warned of besides, so
    that no test passes over it.
    """
    purposely = isinstance(error, (FleetstatsError, MemoryError))
    if not purposely:
        warnings.warn(
            f"The chapter '{chapter.key}' broke: {_what(error)}", RuntimeWarning, stacklevel=2
        )
    return caution(
        "chapter-failed", chapter=chapter.key, title=name_of(chapter), reason=_reason(error)
    )


def miss_chapter(chapter: Chapter, needed: Chapter) -> Caution:
    """Return the caution of a chapter that rests on one which could not be made."""
    reason = f"it rests on another part that could not be made, {name_of(needed)}."
    return caution("chapter-failed", chapter=chapter.key, title=name_of(chapter), reason=reason)


def name_of(chapter: Chapter) -> str:
    """Return how a chapter is called within a sentence."""
    return chapter.stage or chapter.key.replace("-", " ")


def by_chapter(troubles: Sequence[Caution]) -> Mapping[str, Caution]:
    """Return what could not be made, by the chapter's key."""
    return {t.where: t for t in troubles}


def mark_section(chapter: Chapter, section: Section | None, trouble: Caution) -> Section | None:
    """Return the section of a chapter that failed, which says so first.

    None where the chapter has no section of its own; its caution says it then.
    """
    if chapter.compose is None and chapter.show is None:
        return section
    said = say(trouble.text, "missing")
    if section is None or not section.blocks:
        return Section(key=chapter.key, title=capital(name_of(chapter)), blocks=(said,))
    return dataclasses.replace(section, blocks=(said, *section.blocks))


def keeps_of(chapter: Chapter, troubles: Sequence[Caution]) -> tuple[str, ...]:
    """Return what of a chapter's section stands in the body; that it failed always does."""
    if chapter.key not in by_chapter(troubles):
        return chapter.keeps
    return tuple(dict.fromkeys((*chapter.keeps, "missing")))


def _reason(error: Exception) -> str:
    if isinstance(error, FleetstatsError):
        return str(error)
    if isinstance(error, MemoryError):
        return NO_MEMORY
    return (
        f"a fault of the program ({_what(error)}). Please report it, and rest nothing on what "
        "this part would have said."
    )


def _what(error: Exception) -> str:
    """Return the kind of an error and where it was raised; never its text, which may be long."""
    trace = traceback.extract_tb(error.__traceback__)
    at = f", {Path(trace[-1].filename).name}:{trace[-1].lineno}" if trace else ""
    return f"{type(error).__name__}{at}"
