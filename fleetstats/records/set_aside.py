"""A row that was read and is not used, with its reason."""

from __future__ import annotations

import datetime as dt

from fleetstats.core.value import Value, value


@value
class SetAside(Value):
    """A row that was read and is not used, with the code and the sentence of the reason.

    `into` is the row that tells of the same and stands for it, as an `Origin` is written; blank
    where there is none. `ending` and `in_service` are what a row without hours tells besides: how
    it ended, in our words, and the date on which the engine entered service.
    """

    file: str
    row: int
    reason: str
    message: str = ""
    engine: str = ""
    source: str = ""
    sheet: str = ""
    into: str = ""
    ending: str = ""
    in_service: dt.date | None = None
