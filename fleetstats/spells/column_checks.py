"""What the columns of spells must be, row by row."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fleetstats.core.errors import SpellError
from fleetstats.core.value import Array
from fleetstats.spells.event import Event

if TYPE_CHECKING:
    from fleetstats.spells.spells import Spells

ROUNDING = 1.0 + 1e-9
"""How far sums of hours may miss each other by rounding."""


def check_columns(spells: Spells) -> None:
    """Refuse spells that cannot be.

    Raises
    ------
    SpellError
        If hours are not finite, negative or out of order, an event is unknown, a weight is not
        positive or a doubt of a clock no log sd. The message names the unit.
    """
    s = spells

    def refuse(bad: Array, column: str, right: str) -> None:
        if bad.any():
            i = int(np.argmax(bad))
            raise SpellError(
                f"Spell {i + 1} of unit '{s.unit[i]}': {column} is {getattr(s, column)[i]}.",
                f"It must be {right}.",
                index=i,
            )

    refuse(~np.isfinite(s.entry) | (s.entry < 0), "entry", "0 or more, finite")
    refuse(
        ~np.isfinite(s.exit_upper) | (s.exit_upper <= s.entry),
        "exit_upper",
        "finite and later than entry",
    )
    refuse(
        ~(s.exit_lower >= s.entry) | ~(s.exit_lower <= s.exit_upper),
        "exit_lower",
        "between entry and exit_upper",
    )
    refuse(~np.isin(s.event, [e.value for e in Event]), "event", "0, 1, 2 or 3")
    refuse(
        (s.event != Event.FAILED) & (s.exit_lower != s.exit_upper),
        "exit_lower",
        "equal to exit_upper unless the spell failed",
    )
    refuse(~np.isfinite(s.weight) | (s.weight <= 0), "weight", "positive, finite")
    refuse(
        ~(s.assumed_h >= 0) | (s.assumed_h > (s.exit_upper - s.entry) * ROUNDING),
        "assumed_h",
        "0 or more, and no more than the hours of the spell",
    )
    refuse(
        (s.clock_sd < 0) | np.isinf(s.clock_sd), "clock_sd", "0 or more, finite, or NaN if not said"
    )
