"""Heads of columns, and words with a remark: what is left when units, brackets and signs go."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TypeVar

from fleetstats.vocabulary.fold import fold

T = TypeVar("T")


def plain_name(header: str) -> str:
    """Return a column's head without case, units in brackets and signs, for comparison.

    It goes further than `fold`: a head carries its unit in brackets, "Exit hours [h]", and signs
    that part nothing, "Serial no.".
    """
    s = re.sub(r"[\[(][^\])]*[\])]", " ", fold(header))
    return " ".join(re.sub(r"[^\w]+|_", " ", s).split())


def meaning_of(word: str, words: Mapping[str, T]) -> T | None:
    """Return what a word of a fixed list means, or None where it is not on the list.

    The word as it stands comes first; one with a remark in brackets or a full stop, "failed (in
    cruise)", means what the word without them means, unless the list holds it whole.

    Parameters
    ----------
    word : str
        As written.
    words : mapping
        Each word of the list in the form of `fold`, with its meaning.
    """
    found = words.get(fold(word))
    return words.get(plain_name(word)) if found is None else found
