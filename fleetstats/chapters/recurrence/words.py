"""What is said of events that can come again."""

from __future__ import annotations

import numpy as np

from fleetstats.chapters.recurrence.values import LIVES, KindLine
from fleetstats.spells.histories import Histories
from fleetstats.vocabulary.wording import count


def recurrence_sentence(line: KindLine, histories: Histories, unit: str) -> str:
    """Say how often events come, per 1,000 h, and to how many engines or lives."""
    r = line.per_1000_h
    out = (
        f"{count(line.n_events, 'event')} in the logs, on {line.n_engines} of "
        f"{len(np.unique(histories.unit))} "
        f"{LIVES[unit]} "
        f"over {histories.exposure_h:,.0f} h: {r.estimate or 0:.2f} per 1,000 h "
        f"({r.low or 0:.2f} to {r.high or 0:.2f} at {100 * r.level:g} %)."
    )
    if line.trend is None:
        return f"{out} Whether they come faster or slower with age cannot be told: {line.no_pace}."
    words = {
        "faster": "They come faster as engines age.",
        "slower": "They come slower as engines age.",
        "steady": "They are not shown to come faster or slower with age.",
    }[line.trend.direction]
    return f"{out} {words}"
