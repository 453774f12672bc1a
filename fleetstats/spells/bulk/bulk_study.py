"""Which studies can be read by chunks: tables of lives, and no setting that asks for more.

What a study may not ask is what would need each row beside all others, or hours that other rows
give; the reader by chunks keeps no row.
"""

from __future__ import annotations

from fleetstats.core.errors import SettingError
from fleetstats.study.record_settings import LIFE_SHAPES
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.open_table import PARQUETS, TEXTS
from fleetstats.vocabulary.slugs import suffix_of

NOT_FOUND = ("possible-duplicate", "engine-respelt")
"""Kinds of findings that come of what is not looked for; a study cannot act on them."""

NOT_SET_ASIDE = ("cause-misspelt", "cause-undeclared")
"""Kinds that are counted by cause here, not row by row."""


class ReturnsToMerge(SettingError):
    """Engines stand in several tables, whose returns are merged only where they are read whole."""

    def __init__(self) -> None:
        super().__init__(
            "Some engines stand in more than one record file. What several senders tell of an "
            "engine is merged only where files are read whole.",
            "Leave out --chunks, or set merge.returns = false in the study file.",
        )


def table_files(study: Study) -> tuple[RecordFile, ...]:
    """Return the files of a study that can be read by chunks, those of one table together.

    Raises
    ------
    SettingError
        If the study asks for what cannot be done by chunks.
    """
    missing = unmet_conditions(study)
    if missing:
        raise SettingError(
            f"Tables are read by chunks only in {needed(missing)}.",
            "Change the study file, or leave out --chunks: files of ordinary size are read whole.",
        )
    return study.of_shape(*LIFE_SHAPES)


def needed(missing: tuple[str, ...]) -> str:
    """Say in words what a study would have to be to be read by chunks."""
    return f"a study with {'; '.join(missing)}"


def unmet_conditions(study: Study) -> tuple[str, ...]:
    """Return what a study lacks to be read by chunks, in words; nothing where it can be."""
    s = study.settings
    files = study.of_shape("lives", "log")
    kinds = {suffix_of(f.file) for f in files}
    lives = bool(files) and all(f.shape == "lives" for f in files)
    wrong = {
        "record files of shape 'lives' alone": not lives,
        "CSV or Parquet files": not kinds <= {*TEXTS, *PARQUETS},
        "hours.carry_to_analysis_date = false": s.hours.carry_to_analysis_date,
        "no study.since": s.study.since is not None,
        "hours.rounded = 'as-given'": s.hours.rounded != "as-given",
        "no question.not_renewed_causes": bool(s.question.not_renewed_causes),
        "no fleet.serials_file": bool(s.fleet.serials_file),
        "no treat.possible-duplicate or treat.engine-respelt": any(
            s.treat.actions.get(c, "accept") != "accept" for c in NOT_FOUND
        ),
        "no treat.cause-misspelt or treat.cause-undeclared = 'set-aside'": any(
            s.treat.actions.get(c) == "set-aside" for c in NOT_SET_ASIDE
        ),
        "no merge.decisions": bool(s.merge.decisions),
        "no portfolio.family (use 'fleetstats portfolio')": bool(s.portfolio.family),
    }
    return tuple(what for what, bad in wrong.items() if bad)
