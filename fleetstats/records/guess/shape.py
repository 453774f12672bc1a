"""What a row of a sheet stands for: a life, an event, a check, a reading of a cylinder."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from fleetstats.records.guess.columns import Columns, known_share, match_heads
from fleetstats.records.guess.guess import LIKELY, OPEN, SURE, Given, Guess
from fleetstats.records.guess.happenings import happenings_of, tells_histories
from fleetstats.records.guess.header import SAID
from fleetstats.records.guess.profile import Profile
from fleetstats.records.guess.shapes import FIELDS_OF
from fleetstats.study.record_settings import SHAPES
from fleetstats.vocabulary.endings import ENDINGS_BY_WORD
from fleetstats.vocabulary.events import EVENTS_BY_WORD
from fleetstats.vocabulary.fields.headers import meaning_of
from fleetstats.vocabulary.tongues.bare import bare
from fleetstats.vocabulary.tongues.ends import ENDING_OF, EVENT_OF

REPEATED: Final = 1.5
"""Rows per engine from which on rows are events of engines rather than engines."""

EVENTS_ONLY: Final = 0.1
"""Share of rows with words that are events and no endings, from which on a sheet is a log."""

NAMED: Final = 0.9
"""How far a head must be the name of a column for it to decide the shape."""

_BY_NAME = {
    "leakdown": (("cylinder", "reading"), "a reading of a cylinder"),
    "bench": (("stress", "life", "ended"), "a part run on the bench"),
    "checks": (("result", "hours"), "a check of an engine"),
}


def guess_shape(columns: Sequence[Profile], given: Given) -> tuple[Guess, Columns] | str:
    """Return the shape with its columns, or why the sheet holds no records."""
    happen = happenings_of(columns)
    once = [c for c in columns if c.at not in happen]

    def matched(shape: str) -> Columns:
        return match_heads(shape, once if shape == "histories" else columns, given.columns)

    if given.shape in FIELDS_OF:
        told = Guess(what="shape", value=given.shape, reason=SAID, sure=SURE)
        return told, matched(given.shape)
    found = {shape: matched(shape) for shape in FIELDS_OF}
    lives, log = found["lives"], found["log"]
    for shape, (names, what) in _BY_NAME.items():
        if shape in SHAPES and _all_named(found[shape], names) and _told_apart(shape, found):
            why = f"the heads {_heads(found[shape], names)} belong to {what}"
            return Guess(what="shape", value=shape, reason=why, sure=LIKELY,
                         alternatives=("lives", "log")), found[shape]  # fmt: skip
    if "engine" not in lives.index and "engine" not in log.index:
        return "No column names engines."
    per_engine = _per_engine(lives)
    if per_engine < REPEATED and (why := tells_histories(columns)):
        return Guess(what="shape", value="histories", reason=why, sure=LIKELY,
                     alternatives=("lives",)), found["histories"]  # fmt: skip
    events = _events_only(log, columns)
    if (
        {"kind", "engine"} <= log.index.keys()
        and events >= EVENTS_ONLY
        and {"date", "hours"} & log.index.keys()
    ):
        sure = SURE if per_engine >= REPEATED else LIKELY
        why = (
            f"{per_engine:.1f} rows to an engine, and {events:.0%} of the words are events that "
            "end no life"
        )
        return Guess(what="shape", value="log", reason=why, sure=sure,
                     alternatives=("lives",)), log  # fmt: skip
    if "engine" not in lives.index:
        return "No column is plainly the engines'."
    if not {"exit_hours", "ending", "cause", "last_reading_date"} & lives.index.keys():
        return "A column names engines, but none tells of hours, of an ending, or of a date."
    return _lives(lives, log, per_engine), lives


def _lives(lives: Columns, log: Columns, per_engine: float) -> Guess:
    why = f"{per_engine:.1f} rows to an engine"
    sure, may = SURE, tuple[str, ...]()
    if per_engine >= REPEATED:
        if "kind" in log.index or "date" in log.index:
            sure, may = OPEN, ("lives", "log")
            why += ": several lives of an engine (lives), or events of it (log)?"
        else:
            sure = LIKELY
    elif not {"exit_hours", "ending"} <= lives.index.keys():
        sure = LIKELY
    return Guess(what="shape", value="lives", reason=why, sure=sure, alternatives=may)


def _all_named(found: Columns, names: tuple[str, ...]) -> bool:
    return all(n in found.fits and found.fits[n].name >= NAMED for n in names)


def _told_apart(shape: str, found: dict[str, Columns]) -> bool:
    """Return whether a sheet of checks is not one of lives or a log whose heads are alike."""
    if shape != "checks":
        return True
    checks = found["checks"]
    if "engine" not in checks.index or _per_engine(checks) < REPEATED:
        return False
    result = checks.fits["result"].column
    return known_share("ending", result.texts) < 0.5


def _heads(found: Columns, names: tuple[str, ...]) -> str:
    return ", ".join(f"'{found.fits[n].column.head}'" for n in names)


def _per_engine(found: Columns) -> float:
    fit = found.fits.get("engine")
    return fit.column.n / len(fit.column.texts) if fit and fit.column.texts else 1.0


def _events_only(log: Columns, columns: Sequence[Profile]) -> float:
    """Return the share of rows whose word is an event and no ending."""
    at = log.index.get("kind")
    column = next((c for c in columns if c.at == at), None)
    if column is None or not column.n:
        return 0.0
    n = sum(k for t, k in column.texts.items() if _event(t) and not _ending(t))
    return n / column.n


def _event(word: str) -> bool:
    return meaning_of(word, EVENTS_BY_WORD) is not None or bare(word) in EVENT_OF


def _ending(word: str) -> bool:
    return meaning_of(word, ENDINGS_BY_WORD) is not None or bare(word) in ENDING_OF
