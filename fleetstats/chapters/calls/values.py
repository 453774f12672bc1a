"""A list of calls as values: whom to ask, what is known, and what the answers may show."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from fleetstats.core.value import Value, value

if TYPE_CHECKING:
    import pandas as pd


@value
class CallLine(Value):
    """One engine on the list, with what is known of it.

    Parameters
    ----------
    call : int
        Number of the call, from 1.
    engine, source, build : str
        As written; blank where not said.
    kind : str
        A key of `whom.KINDS`.
    known_h : float or None
        Hours since new on the engine's own meter when last read; None where none are known.
    known_on, in_service : date or None
        Dates of the last reading and of entry into service.
    overhauled_at_h : float or None
        Hours since new at the overhaul that began this life, on the same meter.
    meter : str
        Kind of that meter.
    use_h, use_from : float, str
        Hours a year, and where they come from, as in `RunningEngine`.
    unread_h : float
        Hours expected since the last reading, on the study's clock.
    expected_h : float or None
        Hours since new expected today on the engine's own meter; None for a failure whose hours
        are not known.
    chance_bad : float
        Chance that the engine failed within them.
    """

    call: int
    engine: str
    source: str
    build: str
    kind: str
    known_h: float | None
    known_on: dt.date | None
    in_service: dt.date | None
    overhauled_at_h: float | None
    meter: str
    use_h: float
    use_from: str
    unread_h: float
    expected_h: float | None
    chance_bad: float


@value
class Call(Value):
    """One call: an engine, or all engines of one owner.

    Parameters
    ----------
    call : int
        Its number on the list.
    name : str
        The engine, or the owner.
    source : str
        Who has it.
    n_engines : int
        Engines asked about.
    unread_h : float
        Hours expected since their last readings.
    chance_bad : float
        Chance that one or more of them failed within these.
    change : float
        Expected change of the bound by this call alone; below 0 where it is expected to fall.
    high_if_good : float or None
        The bound after this call and all before it, if none of them brings bad news; None past the
        calls that are worked out together.
    chance_bad_so_far : float or None
        Chance of bad news from this call or one before it.
    """

    call: int
    name: str
    source: str
    n_engines: int
    unread_h: float
    chance_bad: float
    change: float
    high_if_good: float | None = None
    chance_bad_so_far: float | None = None


@value
class Together(Value):
    """What the first calls of a list may show, made together.

    Parameters
    ----------
    n : int
        How many calls.
    expected : float
        The bound after them, on the mean over what they may tell.
    error : float
        Standard error of `expected` and, over `chance_bad`, of `if_bad`: the answers with bad news
        are drawn.
    chance_bad : float
        Chance that one engine or more turns out to have failed.
    if_good, if_bad : float
        The bound if none did, and on the mean if one or more did; `if_bad` is `if_good` where no
        bad news can come.
    word_if_good : str
        What the claim would be called if none did: a key of `advice.advice.VERDICTS`.
    """

    n: int
    expected: float
    error: float
    chance_bad: float
    if_good: float
    if_bad: float
    word_if_good: str


@value
class CallList(Value):
    """Whom to ask for a fresh reading, by how much it would move the bound at the claimed hours.

    Parameters
    ----------
    state : str
        ``"listed"``, or ``"nothing-to-ask"`` where every reading is of the analysis date or no use
        is known.
    sentence : str
        The list in one paragraph.
    by : str
        ``"engine"`` or ``"owner"``.
    hours, target : float
        Claimed hours, and the reliability accepted there.
    high_now, word_now : float, str
        The bound of the chance of failure by them, as quoted today, and what the claim is called.
    calls : tuple of Call
        In the order of the list: the first chosen together, the others by what each moves alone.
    lines : tuple of CallLine
        Their engines, in the same order.
    together : Together or None
        Of the first calls; None where there is nothing to ask.
    unread_h : float
        Hours expected since the last readings, of all engines on the list.
    assumptions : tuple of str
        What was assumed, and who is not on the list.
    """

    state: str
    sentence: str
    by: str
    hours: float
    target: float
    high_now: float
    word_now: str
    calls: tuple[Call, ...]
    lines: tuple[CallLine, ...]
    together: Together | None
    unread_h: float
    assumptions: tuple[str, ...]

    def to_frame(self) -> pd.DataFrame:
        """Return the engines as a table, one row each, in the order of the list."""
        import pandas as pd

        names = list(CallLine.__dataclass_fields__)
        return pd.DataFrame({n: [getattr(x, n) for x in self.lines] for n in names})

    def __repr__(self) -> str:
        return "\n".join((self.sentence, *self.assumptions))
