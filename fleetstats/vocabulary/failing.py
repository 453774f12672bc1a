"""What a word of the records says of a failure by itself, whatever a study's map makes of it."""

from __future__ import annotations

from fleetstats.vocabulary.endings import ENDINGS_BY_WORD
from fleetstats.vocabulary.events import EVENTS_BY_WORD
from fleetstats.vocabulary.headers import meaning_of
from fleetstats.vocabulary.trouble import FAILURE, hint_of


def says_failure(text: str) -> bool:
    """Return whether a free text says that an engine failed.

    >>> says_failure("engine failed in cruise"), says_failure("not failed"), says_failure("sold")
    (True, False, False)
    """
    hint = hint_of(text)
    return hint is not None and hint.grade == FAILURE


def ending_by_itself(text: str) -> tuple[str, str] | None:
    """Return the ending, and the cause it implies, that a text means without any map.

    None where the vocabulary does not hold it and it does not say that an engine failed.
    """
    known = meaning_of(text, ENDINGS_BY_WORD)
    if known is None and says_failure(text):
        return ("failed", "")
    return known


def event_by_itself(text: str) -> str | None:
    """Return the event of a log that a text means without any map, as `ending_by_itself` does."""
    known = meaning_of(text, EVENTS_BY_WORD)
    return "failed" if known is None and says_failure(text) else known
