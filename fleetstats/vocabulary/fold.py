"""The one form in which words of the records are compared."""

from __future__ import annotations

import unicodedata
from functools import lru_cache

_JOINTS = str.maketrans(dict.fromkeys("-_\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe63", " "))


@lru_cache(maxsize=16_384)
def fold(word: str) -> str:
    """Return a word of the records in the form in which words are compared.

    Causes, modes, endings, events, builds, sources, meters, places, actions: two spellings are one
    word where they differ in case, in hyphens, dashes, underscores and spaces only, or in Unicode's
    compatibility forms (full-width letters, ligatures). Every other sign tells words apart: "B1"
    and "B1+" are two builds, "valve (exhaust)" and "valve (intake)" two causes.

    Two other ideas have rules of their own: the ids of engines (`ids.normalise_id`, which drops
    leading zeros and most signs) and the heads of columns (`headers.plain_name`, which drops units
    in brackets).

    >>> fold("Exhaust-Valve") == fold("exhaust_valve") == fold(" exhaust  valve ")
    True
    """
    if word.isascii():
        return " ".join(word.lower().translate(_JOINTS).split())
    # Folding the case may leave a compatibility form that the first pass could not see.
    plain = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", word).casefold())
    return " ".join(plain.casefold().translate(_JOINTS).split())


def without_accents(word: str) -> str:
    """Return a folded word without accents, for words of several languages only.

    A build "É1" is not "E1": what the records name is compared by `fold`.

    >>> without_accents("überholung")
    'uberholung'
    """
    if word.isascii():
        return word
    apart = unicodedata.normalize("NFD", word)
    return "".join(c for c in apart if not unicodedata.combining(c))
