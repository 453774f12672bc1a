"""Every change of writing, with what it may move in an answer and why.

Every answer must be what it was, but for the figures that the change names; each has a rule.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import rewrites as write
from study_folder import StudyText

CLOSE = 1e-7
"""Relative difference up to which two figures are one. Sums in another order move an answer by
about 1e-12; refits of resamples, which end their search within about 1e-8, pass that on. Nothing
that a reader sees has more than 6 digits."""


@dataclass(frozen=True)
class Move:
    """Figures that a change may move.

    `path` is a pattern of a path, from the verb's name into its answer (`*` for any part; places
    in lists are `#`); `how` is ``any``, ``order`` (the same things in another order) or ``near``;
    `rule` says why.
    """

    path: str
    how: str
    rule: str


@dataclass(frozen=True)
class Change:
    """One way to write the same facts otherwise.

    `against` rewrites the study on the other side of the comparison, where that is not the study
    as it stands. `respells` says that texts of the answer may carry the new spelling: they are
    then compared without case, hyphens and spaces. `applies` says which studies it can rewrite;
    `asks` names verbs that the quick tests always ask, since such a change once moved them.
    """

    name: str
    rewrite: Callable[[StudyText], StudyText]
    may_move: tuple[Move, ...] = ()
    against: Callable[[StudyText], StudyText] | None = None
    respells: bool = False
    close: float = CLOSE
    applies: Callable[[StudyText], bool] = lambda study: True
    asks: tuple[str, ...] = ()


def _audit(path: str, how: str, rule: str) -> tuple[Move, Move]:
    """Return a move in the account of the records, as `check` and as `study` give it."""
    return Move(f"check.{path}", how, rule), Move(f"study.audit.{path}", how, rule)


LIBRARY = "a library's search, or a curvature by differences, ends within a tolerance of its own"
LIVES_IN_ORDER = (
    Move("*.built.spells.*", "any", "lives stand in the order of the rows"),
    Move("study.chapters.calendar.*", "order", "lives stand in the order of the rows"),
    Move("study.comparison.fits.#.covariance.#.#", "near", LIBRARY),
    Move("study.opinions.*", "any", LIBRARY),
    Move("study.chapters.routes.*", "near", LIBRARY),
)
ACCOUNTS = _audit("accounts*", "any", "there is one account of rows to each file")
READINGS = Move("*.condition.readings*", "any", "there is one account of rows to each file")
LEDGER_IN_ORDER = (
    Move("*trouble.rows", "order", "the ledger stands in the order of the rows"),
    Move("*left_out", "order", "the ledger stands in the order of the rows"),
)
PER_FILE = (
    *LIVES_IN_ORDER,
    *LEDGER_IN_ORDER,
    *ACCOUNTS,
    Move(
        "study --chunks.*",
        "any",
        "a table is read by chunks only where it is the one file of a study",
    ),
    READINGS,
    *_audit("findings*", "any", "what is odd is told once in each file"),
    Move("*.condition.odd*", "any", "what is odd is told once in each file"),
    *_audit("counts.*", "any", "what is odd is told once in each file"),
)
AS_WRITTEN = _audit("findings.#.value", "any", "a finding quotes the cell as it is written")
HEADS = (Move("*trouble.rows.#.columns*", "any", "the ledger names columns as they are headed"),)
COUNTED = Move("compare.sentence", "any", "maps of a file's own words are settings, and counted")
QUOTED = Move("*trouble.rows*", "any", "the ledger quotes rows: their order, heads and words")
SET_ASIDE = (
    Move("*trouble.*", "any", "rows set aside that hint at a failure stand in the ledger"),
    Move("*left_out", "any", "rows set aside that hint at a failure stand in the ledger"),
    *PER_FILE,
    Move("check.exit", "any", "an error that was set aside is still one to the verb that checks"),
    *_audit("n_read", "any", "rows set aside were read"),
    *_audit("n_set_aside", "any", "rows set aside are counted"),
    *_audit("reasons*", "any", "rows set aside are counted by reason"),
    *_audit("set_aside*", "any", "rows set aside are listed"),
    Move("study.built.funnel*", "any", "rows set aside are counted, source by source"),
)
SPELT = (
    *_audit("counts.*", "any", "an id spelt in several ways is noted"),
    *_audit("findings*", "any", "an id spelt in several ways is noted"),
)
IN_ORDER = (
    *LIVES_IN_ORDER,
    *LEDGER_IN_ORDER,
    *_audit("findings", "order", "findings stand in the order of the rows"),
    *_audit("set_aside", "order", "rows set aside stand in the order of the rows"),
    Move("*.runs_*", "order", "runs of the bench stand in the order of the rows"),
)
DRAWN = "one draw of two lives' weight is not two draws of one; means agree within their noise"
ROWS = "rows are counted as rows"
ONE_TOLD_TWICE = "two failures at one age may be one told twice; a count is not"
TOGETHER = "what a row stands for is taken as a whole: left out together, or leading together"
ONE_ROW_OF_TWO = (
    Move("*trouble.*", "any", ROWS),
    Move("*left_out", "any", ROWS),
    Move("study.chapters.calendar.*", "any", "a view by years has one point to each row"),
    *LIVES_IN_ORDER,
    *_audit("n_*", "any", ROWS),
    *_audit("accounts*", "any", ROWS),
    *_audit("counts.*", "any", ONE_TOLD_TWICE),
    *_audit("findings*", "any", ONE_TOLD_TWICE),
    Move("*cautions.*", "any", "a row that stands twice is a copy, a count is as stated"),
    Move("study.built.funnel.*.rows_*", "any", ROWS),
    Move("study --chunks.chapters.bulk.n_*", "any", ROWS),
    Move("study --chunks.chapters.bulk.sources*", "any", ROWS),
    Move("*plan.steps*", "any", TOGETHER),
    Move("*pool*.influence*", "any", TOGETHER),
    Move("*pool*.engines_compared", "any", TOGETHER),
    Move("*outlook.engines*", "any", "an outlook has one line to each row"),
    Move("*forecast.failures.expected", "near", DRAWN),
    Move("*forecast.share_beyond", "near", DRAWN),
    Move("study.chapters.backtest.*", "any", DRAWN),
    *(
        Move(f"*forecast.{what}*", "any", DRAWN)
        for what in [
            "sentences",
            "failures",
            "removals",
            "overhauls",
            "season",
            "spares",
            "reserve",
            "plug_in",
        ]
    ),
)
"""Twice as many engines, written as two rows each or as one row with the count 2."""

CHANGES: tuple[Change, ...] = (
    Change(
        "ids respelt",
        write.respell_ids,
        SPELT,
        respells=True,
        asks=("trends", "outlook", "forecast", "events"),
    ),
    Change(
        "causes respelt", write.respell_causes, respells=True, asks=("interval", "bench", "hidden")
    ),
    Change(
        "causes respelt in the lives alone",
        write.respell_causes_of_lives,
        respells=True,
        asks=("interval",),
    ),
    Change(
        "causes respelt in the study file",
        write.respell_settings,
        respells=True,
        asks=("interval", "bench"),
    ),
    Change("words respelt", write.respell_words, respells=True, asks=("trends",)),
    Change("builds respelt", write.respell_builds, respells=True, asks=("claim",)),
    Change("minutes", write.in_minutes, AS_WRITTEN),
    Change(
        "minutes, long lives",
        write.long_in_minutes,
        AS_WRITTEN,
        against=write.with_long_lives,
        asks=("check",),
    ),
    Change("decimal commas, told", write.with_commas, AS_WRITTEN),
    Change("decimal commas, found", write.with_commas_untold, AS_WRITTEN),
    Change("tabs", write.with_tabs, (*PER_FILE, *AS_WRITTEN)),
    Change("day first", write.day_first),
    Change("month first", write.month_first),
    Change(
        "whole hours",
        write.in_whole_hours,
        AS_WRITTEN,
        against=write.in_whole_hours_with_decimal,
    ),
    Change("rows in another order", write.shuffle_rows, IN_ORDER, asks=("pool", "bench", "trends")),
    Change("columns in another order", write.shuffle_columns),
    Change("columns renamed", write.rename_columns, HEADS),
    Change("files split in two", write.split_files, PER_FILE),
    Change("files merged into one", write.merge_lives, PER_FILE, applies=write.two_of_lives),
    Change("a file that holds nothing", write.add_empty_file, PER_FILE),
    Change("a file of which all is set aside", write.add_file_set_aside, SET_ASIDE),
    Change(
        "much at once",
        write.much_at_once,
        (*SPELT, *PER_FILE, *IN_ORDER, *AS_WRITTEN, *HEADS, QUOTED, COUNTED),
        respells=True,
    ),
    Change(
        "twice by count",
        write.double_by_count,
        ONE_ROW_OF_TWO,
        against=write.double_by_rows,
        applies=write.only_lives,
        asks=("pool", "outlook"),
    ),
    Change(
        "logs split within engines",
        write.split_logs,
        PER_FILE,
        applies=write.has_log,
        asks=("outlook", "forecast", "events"),
    ),
)
"""Every way of writing the same facts."""
