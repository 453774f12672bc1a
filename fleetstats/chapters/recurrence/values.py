"""Results on events that can come again."""

from __future__ import annotations

from fleetstats.bands.interval import Interval
from fleetstats.chapters.recurrence.ahead import CountAhead, say_ahead
from fleetstats.core.value import Value, value
from fleetstats.survival.recurrent.power_law import PowerLaw
from fleetstats.survival.recurrent.recurrent import (
    MeanCumulative,
)
from fleetstats.survival.recurrent.trend import TrendTests
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.wording import count

LIVES = {"engine": "engines", "life": "lives since overhaul"}
"""What is watched: engines, or on the clock since overhaul each life by itself."""


@value
class KindLine(Value):
    """One kind of event.

    `per_1000_h` is events per 1,000 engine hours at the ages watched, engines as units. `law` and
    `trend` are None where nothing can be said of the pace; `no_pace` then says why.
    """

    kind: str
    n_events: int
    n_engines: int
    per_1000_h: Interval
    count: MeanCumulative
    cost: MeanCumulative | None
    law: PowerLaw | None
    trend: TrendTests | None
    no_pace: str


@value
class BuildCount(Value):
    """Mean cumulative count of one build, all kinds of event together."""

    build: str
    count: MeanCumulative


@value
class Recurrence(Value):
    """The chapter: all events together first, then each kind, builds, and the worst engines.

    `worst` holds name, events, cost and hours watched of the engines with most events; `ahead`
    what to expect over the months ahead, by kind, where engines run and their use is known. `unit`
    is a key of `LIVES`.
    """

    lines: tuple[KindLine, ...]
    builds: tuple[BuildCount, ...]
    worst: tuple[tuple[str, int, float, float], ...]
    n_units: int
    exposure_h: float
    currency: str
    sentence: str
    cautions: tuple[Caution, ...] = ()
    ahead: tuple[CountAhead, ...] = ()
    unit: str = "engine"

    def __repr__(self) -> str:
        return self.sentence

    def __str__(self) -> str:
        lines = [self.sentence, *(say_ahead(a, self.currency) for a in self.ahead[:1])]
        for x in self.lines:
            r = x.per_1000_h
            low = f"{r.low or 0.0:.2f} to {r.high or 0.0:.2f}"
            lines.append(
                f"  {x.kind}: {count(x.n_events, 'event')} on "
                f"{count(x.n_engines, self.unit, LIVES[self.unit])}, "
                f"{r.estimate or 0.0:.2f} per 1,000 h ({low})"
            )
        return "\n".join(lines)
