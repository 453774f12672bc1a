"""From which day a watch counts: the last study, as far as it can be known."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from fleetstats.core.errors import SettingError
from fleetstats.study.history import HISTORY_FILE, read_history
from fleetstats.study.study import Study

FEWEST_DAYS = 14
"""Days that rows must reach past the study's own date for that date to be the baseline's end."""


def find_baseline(study: Study, until: dt.date, asked: dt.date | None) -> tuple[dt.date, str]:
    """Return the last day of the baseline, and in words why that day.

    Parameters
    ----------
    study : Study
        Its folder may hold a ledger of looks.
    until : date
        Day up to which the records are known.
    asked : date or None
        Day that the user named.

    Raises
    ------
    SettingError
        If the day does not lie before `until`.
    """
    if asked is not None:
        if asked >= until:
            raise SettingError(
                f"The watch would begin after {asked}, but the records reach to {until} only.",
                "Name an earlier day with --from.",
            )
        return asked, "as asked"
    last = last_study(study.folder, until)
    if last is not None:
        return last, f"the last study in {HISTORY_FILE}"
    stated = study.settings.study.analysis_date
    if stated is not None and (until - stated).days >= FEWEST_DAYS:
        return stated, "the study's analysis date; later rows have come since"
    return until - dt.timedelta(days=365), "a year before the last date of the records"


def last_study(folder: Path, until: dt.date) -> dt.date | None:
    """Return the date of the last study before `until` in the ledger; None without one.

    Lines that cannot be read are passed over; the study itself tells what is wrong with them.
    """
    days = (_day(x.date) for x in read_history(folder).looks if x.verb == "study")
    return max((d for d in days if d and (until - d).days >= FEWEST_DAYS), default=None)


def _day(text: str) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return None
