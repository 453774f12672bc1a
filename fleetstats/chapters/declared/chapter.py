"""What was declared, as a chapter of a study."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from fleetstats.chapters.declared.compute import find_declared
from fleetstats.chapters.declared.values import DeclaredQuestion
from fleetstats.chapters.declared.words import late_line, say_first
from fleetstats.core.provenance import SourceFile
from fleetstats.core.value import Value
from fleetstats.study.declared import read_declared
from fleetstats.study.history import read_history
from fleetstats.study.study import Study

if TYPE_CHECKING:
    from fleetstats.chapters.chapter import Base


def chapter_declared(base: Base, _done: Mapping[str, Value]) -> DeclaredQuestion | None:
    """Return what was declared; None where nothing was. A broken chain is an error of the study."""
    return find_standing(base.study, base.records.sources, len(base.records.serials))


def say_standing(study: Study, sources: Sequence[SourceFile], n_serials: int) -> str:
    """Say in one line how a study stands to what it declared.

    Parameters
    ----------
    study : Study
        As it stands.
    sources : sequence of SourceFile
        Its record files with their digests.
    n_serials : int
        Serials on its list.
    """
    told = find_standing(study, sources, n_serials)
    return late_line(None) if told is None else say_first(told)


def find_standing(
    study: Study, sources: Sequence[SourceFile], n_serials: int
) -> DeclaredQuestion | None:
    """Return how a study stands to what it declared; None where it declared nothing."""
    versions = read_declared(study.folder)
    if not versions:
        return None
    files = {f.name: f.sha256 for f in sources}
    return find_declared(versions, study, read_history(study.folder), files, n_serials)
