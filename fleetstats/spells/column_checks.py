"""What the columns of spells must be, row by row."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from fleetstats.core.errors import SpellError
from fleetstats.core.value import Array
from fleetstats.spells.event import Event

ROUNDING = 1.0 + 1e-9
"""How far sums of hours may miss each other by rounding."""

LEAST_WEIGHT, MOST_WEIGHT = 1e-150, 1e150
"""Beyond these the square of a weight comes to nothing or to no number, and sums of them too."""


def check_columns(columns: Mapping[str, Array]) -> None:
    """Refuse spells that cannot be, by their columns of one length; see `Spells`.

    Raises
    ------
    SpellError
        If hours are not finite, negative or out of order, an event is unknown, a weight is not
        positive or a doubt of a clock no log sd. The message names the unit.
    """
    entry, lower, upper = (columns[f] for f in ("entry", "exit_lower", "exit_upper"))
    event, weight, assumed = (columns[f] for f in ("event", "weight", "assumed_h"))
    clock_sd = columns["clock_sd"]

    def refuse(bad: Array, column: str, right: str) -> None:
        if bad.any():
            i = int(np.argmax(bad))
            unit, told = columns["unit"][i], columns[column][i]
            raise SpellError(
                f"Spell {i + 1} of unit '{unit}': {column} is {told}.",
                f"It must be {right}.",
                index=i,
            )

    refuse(~np.isfinite(entry) | (entry < 0), "entry", "0 or more, finite")
    refuse(
        ~np.isfinite(upper) | (upper <= entry),
        "exit_upper",
        "finite and later than entry",
    )
    refuse(
        ~(lower >= entry) | ~(lower <= upper),
        "exit_lower",
        "between entry and exit_upper",
    )
    refuse(~np.isin(event, [e.value for e in Event]), "event", "0, 1, 2 or 3")
    refuse(
        (event != Event.FAILED) & (lower != upper),
        "exit_lower",
        "equal to exit_upper unless the spell failed",
    )
    refuse(~np.isfinite(weight) | (weight <= 0), "weight", "positive, finite")
    refuse(
        (weight < LEAST_WEIGHT) | (weight > MOST_WEIGHT),
        "weight",
        f"between {LEAST_WEIGHT:g} and {MOST_WEIGHT:g}",
    )
    refuse(
        ~(assumed >= 0) | (assumed > (upper - entry) * ROUNDING),
        "assumed_h",
        "0 or more, and no more than the hours of the spell",
    )
    refuse(~np.isin(columns["in_words"], (0.0, 1.0)), "in_words", "0 or 1")
    refuse((clock_sd < 0) | np.isinf(clock_sd), "clock_sd", "0 or more, finite, or NaN if not said")
