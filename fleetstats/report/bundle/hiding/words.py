"""What stands for words of the records: the same to every rule that reads them, without names.

A note leaves as the word of trouble in it and nothing else, so that the ledger of trouble finds
what it found. A word of a map of the study leaves as a number, with its word of trouble beside it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from fleetstats.records.rules import names_fault
from fleetstats.report.bundle.hiding.names import Names
from fleetstats.report.bundle.hiding.steps import number_text
from fleetstats.study.settings import QuestionKeys
from fleetstats.vocabulary.fields.headers import meaning_of, plain_name
from fleetstats.vocabulary.fields.parts import names_parts
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.totals import reads_as_total
from fleetstats.vocabulary.trouble import FAILURE, NO_FAULT_CAUSES, hint_of
from fleetstats.vocabulary.unknown import says_nothing

UNREAD = "unreadable"
"""Stands where a cell could not be read; no number, date or known word."""
IN_DOUBT = {FAILURE: "failed", "sign": "metal"}
"""A word of each grade, where the one found does not hint when it stands alone."""

Coarsened = Callable[[float], float]


def hint_words(text: str, coarsened: Coarsened) -> str:
    """Return the word of trouble of a text, with the hours that it names; blank where it has none.

    Parameters
    ----------
    text : str
        As written.
    coarsened : callable
        From hours on the row's meter to those that leave.
    """
    hint = hint_of(text)
    if hint is None:
        return ""
    alone = hint_of(hint.word)
    fits = alone is not None and alone.grade == hint.grade
    word = hint.word if fits else IN_DOUBT[hint.grade]
    return word if hint.hours_h is None else f"{word} at {number_text(coarsened(hint.hours_h))} h"


def plain_note(text: str, coarsened: Coarsened) -> str:
    """Return what stands for a free text: its word of trouble, or that it was a line of totals."""
    said = hint_words(text, coarsened)
    return " ".join(x for x in ("total" if reads_as_total(text) else "", said) if x)


def _no_hours(_hours: float) -> float:
    return 0.0


@dataclass(slots=True)
class Words:
    """Words of one study's maps and causes, and what stands for them.

    Parameters
    ----------
    names : Names
        What no word may hold.
    question : QuestionKeys
        Which causes are in question.
    kept : frozenset of str
        Causes, as `fold` has them, that the study file names.
    """

    names: Names
    question: QuestionKeys
    kept: frozenset[str]
    numbers: dict[tuple[str, str], int] = field(default_factory=dict)

    def numbered(self, kind: str, word: str, coarsened: Coarsened | None = None) -> str:
        """Return a number for a word, with its word of trouble; hours in it only coarsened."""
        known = sum(k == kind for k, _ in self.numbers)
        at = self.numbers.setdefault((kind, fold(word)), known + 1)
        said = hint_words(word, coarsened or _no_hours)
        said = said if coarsened else said.partition(" at ")[0]
        return f"{kind} {at}{' ' + said if said else ''}"

    def of_list(
        self, word: str, ours: Mapping[str, object], own: Iterable[str], coarsened: Coarsened
    ) -> str:
        """Return what stands for a word of a fixed list: an ending, an event.

        Parameters
        ----------
        word : str
            As written.
        ours : mapping
            The words that we know, as `fold` has them.
        own : iterable of str
            Words that the study's map knows.
        coarsened : callable
            From hours on the row's meter to those that leave.
        """
        if fold(word) in {fold(w) for w in own} or plain_name(word) in {fold(w) for w in own}:
            return self.mapped(word, ours)
        if meaning_of(word, ours) is not None:
            return fold(word) if fold(word) in ours else plain_name(word)
        return f"{UNREAD} {self.numbered('word', word, coarsened)}"

    def mapped(self, word: str, ours: Mapping[str, object]) -> str:
        """Return what stands for a word of a map; one of ours stays, so that the map stays told."""
        if fold(word) in ours:
            return fold(word)
        return plain_name(word) if plain_name(word) in ours else self.numbered("word", word)

    def cause(self, cause: str, own: Iterable[str] = ()) -> str:
        """Return what stands for a cause; those that the study names stay.

        Whether a word says that the engine had a fault stays as it was.
        """
        folded = fold(cause)
        if folded in {fold(w) for w in own}:
            return self.mapped_cause(cause)
        stays = folded in self.kept or names_parts(cause)
        if folded in NO_FAULT_CAUSES or (stays and not self.names.tells(cause)):
            return " ".join(cause.split())
        if not folded or not names_fault(cause, self.question):
            return cause if says_nothing(cause) else "other"
        return self.numbered("cause", cause)

    def mapped_cause(self, cause: str) -> str:
        """Return what stands for a cause that the study's map knows."""
        stays = fold(cause) in NO_FAULT_CAUSES or names_parts(cause)
        return " ".join(cause.split()) if stays else self.numbered("cause", cause)
