"""The repairs of a guessed file of histories: what each renewed is asked, never guessed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from fleetstats.core.errors import FleetstatsError
from fleetstats.records.guess.guess import OPEN, Guess, GuessedSheet, GuessedStudy
from fleetstats.vocabulary.fields.histories import RENEWED
from fleetstats.vocabulary.fold import fold

ROWS_NAMED = 4


def ask_repairs(guessed: GuessedStudy, folder: Path) -> GuessedStudy:
    """Return a guessed study with a question for each repair that the reader finds open.

    The reader of histories itself says which they are, so that the lines asked for here are those
    that `check` would ask for. Where the study cannot be read yet, nothing is added: `check` names
    the lines once it can.

    Parameters
    ----------
    guessed : GuessedStudy
        As guessed from the files.
    folder : Path
        The study that was laid out from it.
    """
    if not any(s.shape.value == "histories" for s in guessed.sheets):
        return guessed
    from fleetstats.records.readers import read_records
    from fleetstats.study.study import read_study

    try:
        findings = read_records(read_study(folder)).findings
    except FleetstatsError:
        return guessed
    words: dict[tuple[str, str], dict[str, tuple[str, list[int]]]] = {}
    for f in findings:
        if f.code == "history-repair-open" and f.value:
            mine = words.setdefault((f.file, f.sheet), {})
            rows = mine.setdefault(fold(f.value), (f.value, []))[1]
            rows += [f.row] if f.row is not None else []
    return replace(guessed, sheets=tuple(_asked(s, words) for s in guessed.sheets))


def _asked(
    sheet: GuessedSheet, words: dict[tuple[str, str], dict[str, tuple[str, list[int]]]]
) -> GuessedSheet:
    found = words.get((sheet.file, sheet.sheet), {})
    return replace(sheet, renews=tuple(_guess(w, rows) for w, rows in found.values()))


def _guess(word: str, rows: list[int]) -> Guess:
    return Guess(
        what=word,
        value="",
        sure=OPEN,
        alternatives=RENEWED,
        reason=f"engines went on after '{word}': was the engine as new, one part, or nothing",
        n_rows=len(rows),
        rows=tuple(rows[:ROWS_NAMED]),
        effect="these engines are not read until then; their ages hang on it",
    )
