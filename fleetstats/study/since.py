"""A study asked of what happened after a date only."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from fleetstats.core.errors import SettingError
from fleetstats.study.study import Study


def with_since(study: Study, since: dt.date | str) -> Study:
    """Return a study that counts only what happened after a date, as if its file said so.

    Raises
    ------
    SettingError
        If that is no date, or lies on the analysis date or later.
    """
    day = _day(since)
    until = study.settings.study.analysis_date
    if until is not None and day >= until:
        raise SettingError(
            f"Conditions since {day}, but the records go to {until}.",
            "Give a date before study.analysis_date.",
        )
    keys = replace(study.settings.study, since=day)
    settings = replace(study.settings, study=keys)
    return replace(study, settings=settings, chosen=study.chosen | {"study.since"})


def _day(since: dt.date | str) -> dt.date:
    if isinstance(since, dt.date):
        return since
    try:
        return dt.date.fromisoformat(since.strip())
    except ValueError:
        raise SettingError(
            f"Conditions since '{since}', which is no date.", "Write it as 2024-09-01."
        ) from None
