"""Words that say that something is not known, whatever the column."""

from __future__ import annotations

import re

from fleetstats.vocabulary.fold import fold

SAYS_NOTHING = (
    "", "?", "??", "n/a", "n.a.", "na", "none", "null", "nil",
    "unknown", "not known", "cause unknown", "cause not known", "unknown cause",
    "undetermined", "not determined", "undeterminable",
    "not stated", "not given", "none given", "no cause given", "none stated",
    "not recorded", "not reported", "not available", "unspecified", "not specified",
)  # fmt: skip
"""Words that say nothing, as `fold` gives them; a dash alone folds to the empty text.

"not stated", "cause not known", "no cause given" and "unknown" are what the tool itself prints, so
that a table made of its own output reads as it was.
"""

_WORDS = frozenset(SAYS_NOTHING)
_DIGIT = re.compile("[0-9]")


def says_nothing(word: str) -> bool:
    """Return whether a word says only that nobody knows, or nothing at all."""
    # no such word has a digit, and ids of engines, of which a log has many, need no folding
    return _DIGIT.search(word) is None and fold(word) in _WORDS


def cause_known(cause: str) -> bool:
    """Return whether a cause, mode or other word of a record says anything."""
    return fold(cause) not in _WORDS


def pattern_of_nothing() -> str:
    """Return a regular expression for ASCII texts that say nothing, for tests by whole columns.

    It matches each ASCII text that `says_nothing` of, and no other; the syntax is that of RE2.
    """
    joint = r"[-_\s]"
    words = sorted((re.escape(w).replace(r"\ ", f"{joint}+") for w in _WORDS), key=len)
    return f"(?i)^{joint}*(?:{'|'.join(reversed(words))}){joint}*$"
