"""Lives that know of a rise, so that whoever judges a claim of them knows of it too."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from fleetstats.chapters.change.compute import scan_lives
from fleetstats.core.errors import FleetstatsError
from fleetstats.spells.build import Built
from fleetstats.spells.days.dated import place_once
from fleetstats.spells.days.since import ages_at
from fleetstats.study.settings import Settings


def know_rise(built: Built, settings: Settings) -> Built:
    """Return the lives with their ages at the rise that leads, where one is shown.

    Parameters
    ----------
    built : Built
        Lives of a study and the rows behind them.
    settings : Settings
        Analysis date, confidence and seed, as the chapter on changes has them.

    Returns
    -------
    Built
        The same object where no rise of the failures in question is shown, or none can be looked
        for; why it cannot, the chapter itself says.
    """
    try:
        changed = scan_lives(built.rows, built.spells, settings)
    except FleetstatsError:
        return built
    line = None if changed is None else changed.leads
    if line is None or not (line.rose and line.asked):
        return built
    judged = list(zip(built.rows, built.verdicts, strict=True))
    day = line.since - dt.timedelta(days=1)
    until = settings.study.analysis_date
    days = place_once(built.rows, built.spells, until)
    spells = built.spells.replace(at_rise_h=ages_at(judged, day, until, days))
    # the same lives are neither scanned nor placed again
    scan_lives(built.rows, spells, settings, made=changed)
    place_once(built.rows, spells, until, made=days)
    return replace(built, spells=spells, before_rise=day)
