"""One spelling for words that are one word."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from fleetstats.vocabulary.fold import fold


def one_spelling(words: Mapping[str, float], known: Iterable[str] = ()) -> dict[str, str]:
    """Return the spelling in which each word is shown, by its folded form.

    The order of the words does not matter, so that rows in another order give the same report.

    Parameters
    ----------
    words : mapping
        Spellings, each with how often it was written.
    known : iterable of str
        Spellings that stand whatever the records write, such as those of the study file; of two
        spellings of one word the first.

    Returns
    -------
    dict
        Known spellings, and for other words the commonest, or the first by the alphabet.
    """
    out: dict[str, str] = {}
    for word in known:
        out.setdefault(fold(word), word.strip())
    for word, _ in sorted(words.items(), key=lambda told: (-told[1], told[0])):
        out.setdefault(fold(word), word.strip())
    return out
