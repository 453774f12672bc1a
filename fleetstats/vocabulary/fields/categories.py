"""Words for what an engine does and what it is run on: use, fuel, climate, operator.

A column of words is closed where its words are known, by this list or by a map of the study: what
is on neither is told and counts as not given. A column whose words are names, such as operators,
is open: every name is a level of its own, unless the study maps it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.nearest import nearest
from fleetstats.vocabulary.unknown import says_nothing

NOT_GIVEN = "not given"
"""Level of the lives whose value nobody told, or told in a word that nobody mapped."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Category:
    """A column of words: other headers for it, and each level with the words that mean it."""

    headers: tuple[str, ...] = ()
    levels: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


CATEGORIES: dict[str, Category] = {
    "use": Category(
        headers=("usage", "type of use", "kind of use", "main use", "operation", "type of flying"),
        levels={
            "towing": (
                "tow",
                "glider towing",
                "glider tow",
                "aerotow",
                "aero tow",
                "tug",
                "banner towing",
            ),
            "school": ("training", "flight training", "instruction", "flight school", "trainer"),
            "touring": ("private", "touring and private", "travel", "cross country", "leisure"),
            "aerobatics": ("aerobatic", "acro"),
            "rental": ("hire", "charter"),
            "parachuting": ("para", "parachute", "skydiving", "dropping"),
            "patrol": ("observation", "survey"),
        },
    ),
    "fuel": Category(
        headers=("fuel type", "fuel grade", "fuel used"),
        levels={
            "leaded": ("avgas", "100ll", "avgas 100ll", "100 ll"),
            "unleaded": ("ul91", "ul 91", "avgas ul91", "ul94", "100ul", "unleaded avgas"),
            "car fuel": ("mogas", "car petrol", "motor gasoline", "super", "e5", "e10", "autogas"),
            "jet fuel": ("jet a1", "jet a", "jet a 1", "kerosene", "diesel"),
            "mixed": ("mixture", "both", "various"),
        },
    ),
    "climate": Category(
        headers=("climate zone", "environment"),
        levels={
            "temperate": ("moderate", "continental"),
            "hot": ("hot and dry", "desert", "arid"),
            "tropical": ("hot and humid", "humid"),
            "coastal": ("maritime", "salt air", "sea"),
            "cold": ("arctic", "alpine", "mountain"),
        },
    ),
    "operator": Category(headers=("operated by", "owner", "keeper", "holder")),
}
"""Columns of words that we know (common practice, no source); a study may name others."""

Words = Mapping[str, Mapping[str, str]]
"""Maps of a study: a column, then the records' word and the study's word."""


def known_levels(column: str, words: Words) -> tuple[str, ...]:
    """Return the levels that a column can have; empty where every word is a level of its own."""
    own = CATEGORIES.get(column, Category()).levels
    return tuple(dict.fromkeys((*own, *words.get(column, {}).values())))


def level_of(column: str, word: str, words: Words) -> str | None:
    """Return the level that a word of the records means.

    Parameters
    ----------
    column : str
        Our name of the column.
    word : str
        As written.
    words : mapping
        The study's maps; they come before our own words.

    Returns
    -------
    str or None
        `NOT_GIVEN` where the word says nothing; None where the column is closed and the word is
        neither in the map nor one of ours.

    Examples
    --------
    >>> level_of("use", "Glider-Tow", {})
    'towing'
    >>> level_of("fuel", "n/a", {})
    'not given'
    >>> level_of("use", "ferry", {}) is None
    True
    >>> level_of("use", "ferry", {"use": {"Ferry": "touring"}})
    'touring'
    """
    told = fold(word)
    if says_nothing(word) or told == fold(NOT_GIVEN):
        return NOT_GIVEN
    mapped = {fold(w): level for w, level in words.get(column, {}).items()}
    if told in mapped:
        return mapped[told]
    levels = known_levels(column, words)
    for level in levels:
        if told == fold(level):
            return level
    for level, same in CATEGORIES.get(column, Category()).levels.items():
        if any(told == fold(w) for w in same):
            return level
    return None if levels else " ".join(word.split())


CLOSE = 0.75
"""How alike two words are for one to be proposed for the other, of 1."""


def near_level(column: str, word: str, words: Words) -> str:
    """Return the level of the known word that a word comes close to; empty where none does.

    Examples
    --------
    >>> near_level("use", "shcool", {}), near_level("use", "Schulung", {})
    ('school', '')
    """
    own = CATEGORIES.get(column, Category()).levels
    known = [*known_levels(column, words), *words.get(column, {})]
    known += [w for same in own.values() for w in same]
    near = nearest(word, known, cutoff=CLOSE)
    return (level_of(column, near, words) or "") if near else ""
