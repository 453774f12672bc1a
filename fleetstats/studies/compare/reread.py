"""The earlier records, read once more as the later study would read them.

So what its maps, rules and treatments did is told apart from what happened to the engines.
"""

from __future__ import annotations

from dataclasses import replace

from fleetstats.core.errors import FleetstatsError
from fleetstats.core.value import Value, value
from fleetstats.spells.spells import Spells
from fleetstats.studies.analyse import read_lives_of
from fleetstats.studies.compare.settings import compare_settings, match_files
from fleetstats.study.study import RecordFile, Study

LAYOUT = ("header_row", "encoding", "delimiter", "decimal", "date_order", "columns")
"""What says where a file's cells stand: if the later study's does not fit, the earlier one's."""


@value
class Reread(Value):
    """The earlier lives as the later study reads them; None, with the reason, where it cannot."""

    spells: Spells | None
    trouble: str = ""


def reread(old: Study, new: Study) -> Reread | None:
    """Read the earlier study's records by the later study's maps, rules and treatments.

    The records, their cut-off date, the fleet behind them and what was decided on conflicts stay
    the earlier study's.

    Parameters
    ----------
    old, new : Study
        The earlier and the later study.

    Returns
    -------
    Reread or None
        None where both studies read records alike.
    """
    if not any(c.reads for c in compare_settings(old, new)):
        return None
    trouble = ""
    for layout in (True, False):
        try:
            built = read_lives_of(_as_later(old, new, layout=layout))[2]
        except FleetstatsError as error:
            trouble = trouble or str(error).partition("\n")[0].rstrip(":.")
        else:
            return Reread(spells=built.spells)
    return Reread(spells=None, trouble=trouble)


def _as_later(old: Study, new: Study, *, layout: bool) -> Study:
    s = new.settings
    settings = replace(
        s,
        study=replace(s.study, analysis_date=old.settings.study.analysis_date),
        fleet=old.settings.fleet,
        merge=replace(s.merge, decisions=old.settings.merge.decisions),
    )
    later = {i: new.files[j - 1] for i, j in match_files(old, new)}
    files = tuple(_read_as(f, later.get(i), layout=layout) for i, f in enumerate(old.files, 1))
    return replace(old, settings=settings, files=files)


def _read_as(file: RecordFile, later: RecordFile | None, *, layout: bool) -> RecordFile:
    if later is None:
        return file
    kept = ("file", "path", "sheet", "source", *(() if layout else LAYOUT))
    return replace(later, **{name: getattr(file, name) for name in kept})
