"""The page of the table of wrong truths: one small table to a question, today's beside before's."""

from __future__ import annotations

import math
from collections.abc import Callable

from misspecified import ACCEPTED, SEED, Row

Kept = dict[tuple[str, int, str], Row]
Cell = Callable[[Row], float]

QUESTIONS: tuple[tuple[str, str, Cell], ...] = (
    ("Called supported although the chance is the accepted one itself, in 100 fleets",
     "Promised: 5 at most. Goal where the truth is not Weibull: 7.", lambda r: 100 * r.wrong),
    ("Called supported although the chance is 1.2 times the accepted one, in 100 fleets",
     "", lambda r: 100 * r.wrong_over),
    ("Called supported where the chance is half of the accepted one, in 100 fleets",
     "Here it is right, so more is better.", lambda r: 100 * r.power),
    ("Lower edge of the B10 life later than the true one, in 100 fleets",
     "Promised: 5.", lambda r: 100 * r.b10_late),
    ("Upper edge of the B10 life earlier than the true one, in 100 fleets",
     "Promised: 5.", lambda r: 100 * r.b10_early),
    ("Plan-from of the overhaul band later than the true B10 life, in 100 fleets",
     "", lambda r: 100 * r.plan_late),
)  # fmt: skip
"""Title, what is wanted, and the figure of a row; each also stands in the table of before."""

AHEAD: tuple[tuple[str, str, Cell, Cell], ...] = (
    ("90 % intervals of the failures of the next year that held, in 100 fleets",
     "Goal: 85 or more. Beside: by the Weibull alone, as before.",
     lambda r: 100 * r.held_1, lambda r: 100 * r.alone_held_1),
    ("90 % intervals of the failures of the next two years that held, in 100 fleets",
     "Goal: 85 or more. Beside: by the Weibull alone, as before.",
     lambda r: 100 * r.held_2, lambda r: 100 * r.alone_held_2),
    ("Mean width of the interval over two years, in failures",
     "Beside: by the Weibull alone.", lambda r: r.width_2, lambda r: r.alone_width_2),
    ("Told chance of the most worn tenth of the engines within 100 h, over the true one",
     "Beside: the middle of the Weibull's draws.", lambda r: r.worn, lambda r: r.worn_alone),
)  # fmt: skip


def page_text(now: tuple[Row, ...], before: tuple[Row, ...]) -> str:
    """Return the page in Markdown from the rows of today and of before."""
    kept, old = ({(r.truth, r.n, r.ages): r for r in rows} for rows in (now, before))
    fleets = max((r.fleets for r in now), default=0)
    forecasts = max((r.forecasts for r in now), default=0)
    out = [
        "# What the answers are worth where lives are not Weibull",
        "",
        f"Fleets made hour by hour by `tests/tools/other_fleets.py`, seed {SEED}: {fleets} to a "
        f"cell for verdicts and bands (a share of 5 in 100 is known to within "
        f"{100 * _error(0.05, fleets):.0f} points), {forecasts} for forecasts (90: "
        f"{100 * _error(0.9, forecasts):.0f} points). The claim is 1,000 h, the accepted chance "
        f"{100 * ACCEPTED:g} %. In young fleets the oldest engine has 1,100 h, in mature ones "
        "2,200 h. The verdict counts no caution and no proviso; a report adds those. A dash is a "
        "cell that was not measured.",
        "",
        "The weights of the laws in forecasts, that of the bathtub above all, were set with an eye "
        "to this generator's young fleets of 250 (other seeds), so those rows flatter them; the "
        "verdict's rule was set elsewhere.",
    ]
    for title, wanted, value in QUESTIONS:
        out += _table(title, wanted, kept, value, old, value, "In brackets: the rule of before.")
    for title, wanted, value, other in AHEAD:
        out += _table(title, wanted, kept, value, kept, other, "")
    out += _table(
        "Brier score of the told chances within 100 h over that of the fleet's own rate, less 1",
        "In per cent; below 0 the told chance is the better.",
        kept, lambda r: 100 * r.brier, {}, lambda r: math.nan, "",
    )  # fmt: skip
    return "\n".join(out) + "\n"


def _table(
    title: str, wanted: str, rows: Kept, value: Cell, beside: Kept, other: Cell, note: str
) -> list[str]:
    columns = list(dict.fromkeys((n, ages) for _, n, ages in rows))
    truths = list(dict.fromkeys(truth for truth, _, _ in rows))
    says = " ".join(x for x in (wanted, note if beside else "") if x)
    out = ["", f"## {title}", "", *((says, "") if says else ())]
    out.append("| truth | " + " | ".join(f"{n:,} {ages}" for n, ages in columns) + " |")
    out.append("| --- |" + " --- |" * len(columns))
    for truth in truths:
        cells = []
        for n, ages in columns:
            a = rows.get((truth, n, ages))
            b = beside.get((truth, n, ages))
            cells.append(_pair(a, value, b, other))
        out.append(f"| {truth} | " + " | ".join(cells) + " |")
    return out


def _pair(a: Row | None, value: Cell, b: Row | None, other: Cell) -> str:
    first = "–" if a is None else _figure(value(a))
    second = "" if b is None else _figure(other(b))
    return first if second in ("", "–") else f"{first} ({second})"


def _figure(x: float) -> str:
    if math.isnan(x):
        return "–"
    return f"{x:.0f}" if abs(x) >= 10.0 else f"{x:.1f}"


def _error(p: float, n: int) -> float:
    return 2.0 * math.sqrt(p * (1.0 - p) / max(n, 1))
