"""What each word in a column of endings, events or causes most likely means.

A word that hints at a failure is never given a meaning by a guess, nor one that would say of a row
that nothing failed while other cells of that row hint at a failure: such words are left open, and
the study stops at them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from fleetstats.records.guess.guess import LIKELY, OPEN, SURE, Guess
from fleetstats.tables.cells import is_blank, text
from fleetstats.tables.table import RawRow
from fleetstats.vocabulary.endings import ENDINGS, ENDINGS_BY_WORD, FAILING_ENDINGS
from fleetstats.vocabulary.events import EVENTS_BY_WORD, KINDS
from fleetstats.vocabulary.fields.headers import meaning_of
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.nearest import nearest
from fleetstats.vocabulary.tongues.bare import bare, spellings
from fleetstats.vocabulary.tongues.causes import CAUSE_OF
from fleetstats.vocabulary.tongues.ends import (
    ASKS_FAILED,
    ASKS_RUNNING,
    ENDING_OF,
    EVENT_OF,
    NO,
    OVERHAULED,
    YES,
)
from fleetstats.vocabulary.trouble import FAILURE, NO_FAULT_CAUSES, hint_of
from fleetstats.vocabulary.wording import count

MOST_WORDS: Final = 60
"""Different words of a column that are listed; a column with more is hardly one of endings."""

ROWS_NAMED: Final = 4
TROUBLED = ("failed", "found-at-check", "removed-finding", "finding", "unscheduled")
"""Endings and events that tell of a failure or a fault themselves."""

IF_ILL = ("failed", "found-at-check", "removed-finding", "removed")
IF_OVERHAULED = ("planned-overhaul", "removed-finding", "failed")
IF_OVERHAUL_EVENT = ("overhauled", "top-overhaul", "failed", "removed")
EVENT_IF_ILL = ("failed", "finding", "unscheduled", "removed")
CLOSE: Final = 0.84

_OVERHAUL = {f for w in OVERHAULED for f in spellings(w)}
_YES, _NO = ({f for w in words for f in spellings(w)} for words in (YES, NO))
_FAILED_HEADS, _RUNNING_HEADS = (
    {f for w in words for f in spellings(w)} for words in (ASKS_FAILED, ASKS_RUNNING)
)


@dataclass(slots=True)
class WordRows:
    """One word of a column as first written, its rows, and those that hint at a failure besides."""

    word: str
    rows: list[int] = field(default_factory=list)
    hinting: list[int] = field(default_factory=list)


def words_of(
    rows: Sequence[RawRow], at: int, hints: Mapping[int, str]
) -> tuple[dict[str, WordRows], list[int]]:
    """Return each word of a column by its folded form, and the rows without a word.

    Parameters
    ----------
    rows : sequence of RawRow
        The rows of the sheet.
    at : int
        Place of the column.
    hints : mapping
        Rows, by number, in which another cell hints at a failure.
    """
    found: dict[str, WordRows] = {}
    blank: list[int] = []
    for r in rows:
        cell = r.cells[at] if at < len(r.cells) else None
        if is_blank(cell):
            blank.append(r.row)
            continue
        shown = text(cell)
        told = found.setdefault(fold(shown), WordRows(shown))
        told.rows.append(r.row)
        if r.row in hints:
            told.hinting.append(r.row)
    return found, blank


def guess_endings(found: Mapping[str, WordRows], head: str) -> tuple[Guess, ...]:
    """Return what each word of a column of endings means."""
    asks = _asks(head)
    return tuple(_ending(w, asks) for w in _first(found))


def guess_kinds(found: Mapping[str, WordRows]) -> tuple[Guess, ...]:
    """Return what each word of a column of events means."""
    return tuple(_kind(w) for w in _first(found))


def guess_causes(found: Mapping[str, WordRows], failing: frozenset[int]) -> tuple[Guess, ...]:
    """Return what each word of a column of causes means in the words of the trade.

    Parameters
    ----------
    found : mapping
        The words with their rows.
    failing : frozenset of int
        Rows that tell of a failure: a cause that excuses it is left open.
    """
    out = []
    for w in _first(found):
        ours = CAUSE_OF.get(bare(w.word))
        if ours is None or fold(ours) == fold(w.word):
            continue
        excuses = fold(ours) in NO_FAULT_CAUSES
        told = sorted({*w.hinting, *(failing & set(w.rows))})
        if excuses and told:
            out.append(
                _guess(w, ours, OPEN, f"the word for {ours}, but {_named(told)} "
                       f"{'tell' if len(told) > 1 else 'tells'} of a failure", (ours,),
                       "left as it is, it counts as a cause within the engine")
            )  # fmt: skip
        else:
            out.append(
                _guess(
                    w, ours, LIKELY, f"the word for {ours}", effect=f"{count(len(w.rows), 'row')}"
                )
            )
    return tuple(out)


def _first(found: Mapping[str, WordRows]) -> list[WordRows]:
    ordered = sorted(found.values(), key=lambda w: (-len(w.rows), w.rows[0]))
    return ordered[:MOST_WORDS]


def _ending(w: WordRows, asks: str) -> Guess:
    known = meaning_of(w.word, ENDINGS_BY_WORD)
    if known:
        return _guess(w, known[0], SURE, "a word that the tool knows", known=True)
    plain = bare(w.word)
    if asks and plain in (_YES | _NO):
        return _answered(w, asks, plain in _YES)
    if plain in _OVERHAUL:
        return _left(w, "overhauled because hours were due, or because it was ill?", IF_OVERHAULED)
    return _by_words(w, ENDING_OF.get(plain, ""), ENDINGS, IF_ILL)


def _kind(w: WordRows) -> Guess:
    known = meaning_of(w.word, EVENTS_BY_WORD)
    if known:
        return _guess(w, known, SURE, "a word that the tool knows", known=True)
    plain = bare(w.word)
    ours = EVENT_OF.get(plain, "")
    if not ours and plain in _OVERHAUL:
        return _left(w, "an overhaul as a whole, of the top end, or after a failure?",
                     IF_OVERHAUL_EVENT)  # fmt: skip
    return _by_words(w, ours, KINDS, EVENT_IF_ILL)


def _by_words(w: WordRows, ours: str, known: Mapping[str, str], if_ill: tuple[str, ...]) -> Guess:
    """Return the guess on a word that the reader does not know; `ours` is what a list says."""
    hint = hint_of(w.word)
    if hint is not None or ours in TROUBLED:
        said = f"'{hint.word}' hints at a failure" if hint else f"it says {ours}"
        first = (ours,) if ours else ("failed",) if hint and hint.grade == FAILURE else ()
        return _left(w, said, tuple(dict.fromkeys((*first, *if_ill))))
    if ours and w.hinting:
        told = f"other cells of {_named(w.hinting)} hint at a failure"
        return _left(w, f"the word for {ours}, but {told}", tuple(dict.fromkeys((ours, *if_ill))))
    if ours:
        return _guess(w, ours, LIKELY, f"{known[ours]}, in another language or by another word")
    near = nearest(w.word, known, cutoff=CLOSE)
    rest = tuple(k for k in known if k != near)
    return _left(w, f"close to '{near}', but not it" if near else "not a word that is known",
                 (near, *rest) if near else rest)  # fmt: skip


def _asks(head: str) -> str:
    plain = bare(head)
    return "failed" if plain in _FAILED_HEADS else "running" if plain in _RUNNING_HEADS else ""


def _answered(w: WordRows, asks: str, yes: bool) -> Guess:
    """Return what yes or no means under a head that asks for a failure, or for service."""
    if asks == "failed" and yes:
        return _guess(w, "failed", LIKELY, "the head of the column asks whether it failed")
    if w.hinting:
        return _left(w, f"other cells of {_named(w.hinting)} hint at a failure",
                     ("running", *IF_ILL))  # fmt: skip
    if asks == "failed":
        return _guess(w, "running", LIKELY, "the head of the column asks whether it failed")
    if yes:
        return _guess(w, "running", LIKELY, "the head of the column asks whether it runs")
    return _left(w, "it does not run: why not?", (*IF_ILL, "planned-overhaul", "lost"))


def _left(w: WordRows, why: str, may: tuple[str, ...]) -> Guess:
    n = count(len(w.rows), "row")
    return _guess(w, "", OPEN, why, may, f"{n} {'are' if len(w.rows) > 1 else 'is'} not read")


def _guess(
    w: WordRows, ours: str, sure: str, why: str, may: tuple[str, ...] = (), effect: str = "",
    *, known: bool = False,
) -> Guess:  # fmt: skip
    n = len(w.rows)
    failing = ours in FAILING_ENDINGS
    does = f"{count(n, 'row')} {'become' if n > 1 else 'becomes'} {ours}" if ours else ""
    return Guess(
        what=w.word,
        value=ours,
        reason=why,
        sure=sure,
        alternatives=may,
        n_rows=n,
        rows=tuple(w.rows[:ROWS_NAMED]),
        effect=effect or (f"{does}, in question as a failure" if failing else does),
        known=known,
    )


def _named(rows: Sequence[int]) -> str:
    shown = ", ".join(str(r) for r in rows[:ROWS_NAMED])
    more = f" and {len(rows) - ROWS_NAMED} more" if len(rows) > ROWS_NAMED else ""
    return f"row{'s' if len(rows) > 1 else ''} {shown}{more}"
