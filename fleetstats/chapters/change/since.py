"""The claim from hours after a change only."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from fleetstats.chapters.change.values import ChangeLine, Since
from fleetstats.chapters.since import SinceAnswer
from fleetstats.core.errors import FleetstatsError
from fleetstats.study.settings import Settings

AnswerSince = Callable[[dt.date], SinceAnswer | None]
"""The light answer from what happened after a day."""


def claim_since(line: ChangeLine, answer: AnswerSince, settings: Settings) -> Since | None:
    """Return the claim from what came since a rise in question; None without either.

    Parameters
    ----------
    line : ChangeLine
        The rise.
    answer : callable
        Answers from what happened after a day; see `chapters/since`.
    settings : Settings
        The claimed hours.
    """
    hours = settings.study.claimed_interval_h
    if not (line.rose and line.asked) or hours is None:
        return None
    try:
        told = answer(line.since - dt.timedelta(days=1))
    except FleetstatsError:
        return None
    if told is None or told.failure_high is None:
        return None
    return Since(
        day=line.since,
        hours=hours,
        n_failed=told.n_failed,
        exposure_h=told.exposure_h,
        failure_high=told.failure_high,
        state=told.verdict,
        life_low_h=told.life.low,
    )
