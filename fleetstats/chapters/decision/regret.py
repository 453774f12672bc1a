"""What each age for a planned overhaul risks: failures before it, and money if it is wrong."""

from __future__ import annotations

import numpy as np

from fleetstats.advice.results import Results
from fleetstats.document.caption_words import say_regret
from fleetstats.document.document import Explain, Table
from fleetstats.document.table_of import col, table_of

MOST_ROWS = 12


def regret_table(results: Results) -> Table | None:
    """Return candidate ages with the chance of failing before and the mean regret; None without.

    At most twelve ages, evenly taken from those worked out; the least regret is always among them.
    """
    cost, fit = results.advice.cost, results.fit
    if fit is None or not len(cost.regret_hours):
        return None
    n = len(cost.regret_hours)
    pick = np.unique(np.linspace(0, n - 1, min(n, MOST_ROWS)).round().astype(int))
    best = int(np.argmin(cost.regret))
    if best not in pick:
        pick = np.sort(np.append(np.delete(pick, np.argmin(np.abs(pick - best))), best))
    hours = cost.regret_hours[pick]
    failure = 1.0 - fit.reliability(hours)
    end = results.advice.horizon.supported_h

    def flat(h: float) -> bool:
        low, high = cost.flat_low_h, cost.flat_high_h
        return low is not None and low <= h <= (np.inf if high is None else high)

    def note(h: float) -> str:
        parts = []
        if h == cost.least_regret_h:
            parts.append("least regret")
        if flat(h):
            parts.append("within 5 % of the least cost")
        if h > end:
            parts.append("extrapolation")
        return ", ".join(parts)

    return table_of(
        list(zip(hours.tolist(), failure.tolist(), cost.regret[pick].tolist(), strict=True)),
        key="cost-regret",
        title="If that age were chosen",
        columns=(
            col("age_h", "Overhaul planned at", lambda x: x[0], "hours"),
            col("failure", "Fail before it, estimated", lambda x: x[1], "percent"),
            col("regret", "Mean regret", lambda x: x[2], "percent"),
            col("note", "Note", lambda x: note(x[0])),
        ),
        see=say_regret([float(f) for h, f in zip(hours, failure, strict=True) if flat(h)]),
        folded=True,
    )


REGRET = Explain(
    term="regret",
    text="What a choice costs more than the best one, on average over all curves that the records "
    "leave open. An age with little regret is a fair choice whichever of them is true.",
)
