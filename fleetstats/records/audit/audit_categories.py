"""What columns of words say that nobody knows, or do not say at all."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fleetstats.records.life import LifeRow
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.fields.categories import NOT_GIVEN, known_levels, level_of, near_level
from fleetstats.vocabulary.finding import Finding, make_finding
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.wording import count

TREATED = {
    "level": "They are a level of their own, 'not given'.",
    "set-aside": "The chapter on covariates sets them aside and counts them.",
}
"""What becomes of such lives, by `categories.missing`."""


def audit_categories(lives: Sequence[LifeRow], settings: Settings) -> Iterator[Finding]:
    """Yield, for each column of words, the words that nobody knows and how many lives are blank.

    One finding stands for a word of a file, at the first row that has it, and names the line to
    add to the map.
    """
    keys = settings.categories
    for column in keys.columns:
        if not any(column in x.categories for x in lives):
            if lives:
                yield make_finding("category-missing", column=column, name=column)
            continue
        yield from _unknown(lives, column, settings)
        blank = [x for x in lives if _says_nothing(x, column, settings)]
        if blank:
            yield make_finding(
                "category-blank",
                column=column,
                name=column,
                lives=count(sum(x.count for x in blank), "life", "lives"),
                n=sum(x.count for x in lives),
                treated=TREATED[keys.missing],
            )


def _says_nothing(x: LifeRow, column: str, settings: Settings) -> bool:
    told = x.categories.get(column, ())
    return all(level_of(column, w, settings.categories.words) == NOT_GIVEN for _, w in told)


def _unknown(lives: Sequence[LifeRow], column: str, settings: Settings) -> Iterator[Finding]:
    words = settings.categories.words
    found: dict[tuple[str, str, str], list[tuple[LifeRow, str]]] = {}
    for x in lives:
        for _, word in x.categories.get(column, ()):
            if level_of(column, word, words) is None:
                found.setdefault((x.origin.file, x.origin.sheet, fold(word)), []).append((x, word))
    known = known_levels(column, words)
    for (file, sheet, _), told in found.items():
        first, word = told[0]
        near = near_level(column, word, words)
        yield make_finding(
            "category-unknown/near" if near else "category-unknown",
            file=file,
            sheet=sheet,
            row=first.origin.row,
            column=column,
            name=column,
            value=word[:80],
            engine=first.engine,
            word=word[:80],
            lives=count(sum(x.count for x, _ in told), "life", "lives"),
            near=near,
            known=", ".join(f'"{x}"' for x in known),
        )
