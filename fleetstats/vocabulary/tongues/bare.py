"""The form in which words of several languages are compared."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Final

from fleetstats.vocabulary.fields.headers import plain_name
from fleetstats.vocabulary.fold import fold, without_accents

LANGUAGES: Final = ("English", "German", "French", "Spanish", "Italian", "Dutch")

_SPELT_OUT = {"ä": "ae", "ö": "oe", "ü": "ue"}


@lru_cache(maxsize=16_384)
def bare(word: str) -> str:
    """Return a word as `plain_name` does, without accents besides.

    >>> bare("Numéro de série"), bare("Stunden seit Überholung [h]")
    ('numero de serie', 'stunden seit uberholung')
    """
    return without_accents(plain_name(word))


def spellings(word: str) -> tuple[str, ...]:
    """Return the bare forms of a word: without accents, and with umlauts spelt out.

    >>> spellings("Überholung")
    ('uberholung', 'ueberholung')
    """
    out = fold(word)
    for sign, letters in _SPELT_OUT.items():
        out = out.replace(sign, letters)
    return tuple(dict.fromkeys((bare(word), bare(out))))


def by_bare(words: Mapping[str, Iterable[str]]) -> dict[str, str]:
    """Return each spelling of some words with the word of ours that it stands for; first wins."""
    out: dict[str, str] = {}
    for ours, theirs in words.items():
        for word in theirs:
            for form in spellings(word):
                out.setdefault(form, ours)
    return out
