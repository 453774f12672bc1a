"""How lives are told apart: [groups], and [categories] whose effect on life is asked for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from fleetstats.study.key import FACT, key
from fleetstats.study.schema import show
from fleetstats.vocabulary.nearest import did_you_mean

MISSING = ("level", "set-aside")


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupKeys:
    """[groups]: how lives are grouped."""

    by: tuple[str, ...] = key("Groups that are compared.", default=("build", "source"))
    margin: tuple[float, ...] = key(
        "Range of life ratios within which groups count as alike.", default=(0.8, 1.25)
    )
    covariates: tuple[str, ...] = key("Numeric columns used as covariates.", default=())
    build_order: tuple[str, ...] = key(
        "Build standards in the order in which they came; empty takes the middle in-service date.",
        default=(),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CategoryKeys:
    """[categories]: what engines do and run on, as columns of words, and the life they go with."""

    columns: tuple[str, ...] = key(
        "Columns of words used as covariates, in lives and logs: use, fuel, climate, operator, or "
        "any header. Words of use, fuel and climate are known; a column of your own takes each "
        "word as a level, or those of its map alone.",
        default=(),
        role=FACT,
    )
    words: dict[str, dict[str, str]] = key(
        "For each column a table, [categories.words.use]: the records' word = the study's word.",
        factory=dict,
        role=FACT,
    )
    missing: str = key(
        "What a life whose value nobody told is in this chapter: a level of its own, or set aside "
        "and counted.",
        default="level",
        choices=MISSING,
    )
    adjust: tuple[str, ...] = key(
        "What effects are adjusted for besides each other: build, and calendar (time of entry, "
        "where dates tell it).",
        default=("build", "calendar"),
    )
    at: tuple[str, ...] = key(
        'Values at which life, reliability and hazard are given, such as "use=towing"; others '
        "stand at the commonest level and at the mean.",
        default=(),
        role=FACT,
    )


ADJUSTERS = ("build", "calendar")


def check_categories(keys: CategoryKeys, taken: Iterable[str], problems: list[str]) -> None:
    """Add a sentence to `problems` for each thing wrong in [categories].

    Parameters
    ----------
    keys : CategoryKeys
        The table.
    taken : iterable of str
        Names that a column of words cannot have: our columns and the numeric covariates.
    problems : list of str
        Receives the sentences.
    """
    ours = set(taken)
    problems += [
        f"categories.columns: {show(name)} cannot be the name of a column of words."
        for name in keys.columns
        if name in ours or not name.strip() or set(name) & set("=:;")
    ]
    if len(set(keys.columns)) != len(keys.columns):
        problems.append("categories.columns: a name stands twice.")
    told: dict[str, Any] = dict(keys.words)
    for column, table in told.items():
        where = f"categories.words.{column}"
        if not isinstance(table, dict):
            problems.append(f"{where} = {show(table)}: must be a table (word = word).")
            continue
        if column not in keys.columns:
            said = did_you_mean(column, keys.columns) if keys.columns else "It lists none."
            problems.append(f"{where}: is no column of categories.columns. {said}")
        for word, level in table.items():
            if not isinstance(level, str) or not level.strip():
                problems.append(
                    f'{where}."{word}" = {show(level)}: must be a text in quotation marks.'
                )
    problems += [
        f"categories.adjust: unknown '{name}'. {did_you_mean(name, ADJUSTERS)}"
        for name in keys.adjust
        if name not in ADJUSTERS
    ]
    problems += [
        f'categories.at: {show(pair)} is not written as name=value, such as "use=towing".'
        for pair in unpaired(keys.at)
    ]


def unpaired(pairs: Iterable[str]) -> list[str]:
    """Return what is not written as name=value."""
    return [p for p in pairs if not all(part.strip() for part in p.partition("=")[::2])]
