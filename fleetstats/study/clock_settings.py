"""[clocks]: how far the clocks that the hours were read from may be wrong."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from fleetstats.study.key import VERDICT, key
from fleetstats.vocabulary.nearest import nearest

MOST_DOUBT = 0.5
"""Log standard deviation beyond which hours say nothing of an engine's age."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockKeys:
    """[clocks]: a doubt of the clocks, by which quoted bounds are widened."""

    doubt: float = key(
        "Log standard deviation by which the hours of one engine may be wrong: 0.05 is about 5 %, "
        "one clock in three off by more. 0: every clock is right.",
        default=0.0,
        low=0.0,
        high=MOST_DOUBT,
        role=VERDICT,
    )
    doubts: dict[str, Any] = key(
        "Such a doubt for each kind of meter, as tach = 0.08; `doubt` holds for the other kinds. "
        "That of a single engine stands in the column clock_doubt of its lives.",
        factory=dict,
        role=VERDICT,
    )
    together: float = key(
        "Share of that doubt (of its variance) in which all clocks may be wrong the same way; at 0 "
        "each errs for itself, and the errors of many engines nearly cancel.",
        default=1.0,
        low=0.0,
        high=1.0,
        role=VERDICT,
    )

    def stated(self, own: float | None, meter: str) -> float:
        """Return the log sd stated for an engine or else for its kind of meter; NaN for neither."""
        return float(self.doubts.get(meter, math.nan) if own is None else own)


def check_clocks(clocks: ClockKeys, kinds: Iterable[str], problems: list[str]) -> None:
    """Add a sentence to `problems` for each doubt of a kind of meter that cannot be one.

    Parameters
    ----------
    clocks : ClockKeys
        The table.
    kinds : iterable of str
        Kinds of meter that the records know.
    problems : list of str
        Gets the sentences.
    """
    known = tuple(kinds)
    for meter, told in clocks.doubts.items():
        where = f"clocks.doubts.{meter}"
        if meter not in known:
            near = nearest(meter, known)
            hint = f" Did you mean '{near}'?" if near else ""
            problems.append(f"{where}: unknown meter kind.{hint} Known are: {', '.join(known)}.")
        elif isinstance(told, bool) or not isinstance(told, int | float):
            problems.append(f"{where} = {told!r}: must be a number, such as 0.05 for about 5 %.")
        elif not 0.0 <= told <= MOST_DOUBT:
            problems.append(
                f"{where} = {told:g}: must be from 0 to {MOST_DOUBT:g}, such as 0.05 for about 5 %."
            )
