"""Lives in use with one spelling to each cause, build and source, whoever wrote them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from fleetstats.core.value import changed
from fleetstats.records.life import LifeRow
from fleetstats.study.study import Study
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.spelling import one_spelling

Mapped = dict[str, str]


def named_causes(study: Study) -> tuple[str, ...]:
    """Return every cause that the study file names, those in question first."""
    q, c = study.settings.question, study.settings.check
    return (
        *q.causes,
        *q.censoring_causes,
        *q.outside_causes,
        *q.not_renewed_causes,
        *c.undetectable_causes,
        *(x for f in study.files for x in f.causes.values()),
    )


def spell_alike(lives: Sequence[LifeRow], study: Study) -> tuple[LifeRow, ...]:
    """Return lives whose causes, builds and sources are spelled as the study file spells them.

    A word that the study file does not name is spelled as most rows spell it. So lives are grouped
    by what was meant, and no later step needs to know of spellings.
    """
    causes, builds, sources = spellings(
        study,
        _counted((x.cause, x.count) for x in lives),
        _counted(told for x in lives for told in ((x.build, x.count), (x.build_after, x.count))),
        _counted((x.source, x.count) for x in lives),
    )
    if not (causes or builds or sources):
        return tuple(lives)
    return tuple(_spelled(x, causes, builds, sources) for x in lives)


def spellings(
    study: Study, causes: Counter[str], builds: Counter[str], sources: Counter[str]
) -> tuple[Mapped, Mapped, Mapped]:
    """Return, for each spelling of a cause, build or source that is not to stand, the one that is.

    Parameters
    ----------
    study : Study
        What it names stands as it names it.
    causes, builds, sources : Counter
        Engines by word as written.
    """
    settings = study.settings
    rules = settings.question.rules
    return (
        _shown(causes, named_causes(study)),
        _shown(
            builds,
            (*settings.groups.build_order, *(str(r["build"]) for r in rules if "build" in r)),
        ),
        _shown(
            sources,
            (*(f.source for f in study.files), *(str(r["source"]) for r in rules if "source" in r)),
        ),
    )


def _counted(words: Iterable[tuple[str, int]]) -> Counter[str]:
    count: Counter[str] = Counter()
    for word, n in words:
        count[word] += n
    return count


def _shown(count: Counter[str], known: Iterable[str]) -> Mapped:
    shown = one_spelling(count, known)
    return {word: shown[fold(word)] for word in count if shown[fold(word)] != word}


def _spelled(life: LifeRow, causes: Mapped, builds: Mapped, sources: Mapped) -> LifeRow:
    told = (life.cause, life.build, life.build_after, life.source)
    tables = (causes, builds, builds, sources)
    one = tuple(t.get(word, word) for word, t in zip(told, tables, strict=True))
    if one == told:
        return life
    cause, build, after, source = one
    return changed(life, cause=cause, build=build, build_after=after, source=source)


def spell_as(
    lives: Sequence[LifeRow],
    written: Sequence[tuple[str, str, str]],
    shown: Sequence[tuple[str, str, str]],
) -> tuple[LifeRow, ...]:
    """Return lives whose cause, source and build are spelled as others of theirs are shown.

    Parameters
    ----------
    lives : sequence of LifeRow
        Lives in use.
    written, shown : sequence of (cause, source, build)
        Words as written, and how each is shown.
    """
    causes, sources, builds = (
        {w[k]: s[k] for w, s in zip(written, shown, strict=True)} for k in range(3)
    )
    return tuple(_spelled(x, causes, builds, sources) for x in lives)
