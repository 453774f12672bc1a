"""Metal on the plug: which engines carry more than the hours since the oil change explain."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from fleetstats.chapters.trends.values import PlugSign
from fleetstats.core.errors import FitError
from fleetstats.core.units import text_percent
from fleetstats.records.condition.checks import GRADES, CheckRow
from fleetstats.survival.regression.grades import GradeFit, fit_grades
from fleetstats.vocabulary.ids import id_order

JUMP = 2
"""A rise of two grades from one check to the next is a finding (trade practice)."""
INVESTIGATE = 3
"""Slivers or chips are investigated whatever came before (trade practice)."""
RARE = 0.02
"""Chance of so much metal below which an engine is named."""
ENOUGH = 40
"""Readings with oil hours from which the fleet's own odds are fitted."""


def read_plugs(checks: Sequence[CheckRow]) -> tuple[tuple[PlugSign, ...], int]:
    """Return the engines whose last metal is a finding or is rare, worst first, and the count.

    Parameters
    ----------
    checks : sequence of CheckRow
        Checks of any kind; those with a grade are read.

    Returns
    -------
    tuple of PlugSign, int
        Flagged engines and the number of graded readings.
    """
    graded = [c for c in checks if c.grade is not None]
    by_engine: dict[str, list[CheckRow]] = defaultdict(list)
    for c in sorted(graded, key=lambda c: c.hours_h):
        by_engine[c.engine].append(c)
    # An engine's last reading is what is judged, so it has no say in what is usual.
    fit = _fit([c for mine in by_engine.values() for c in mine[:-1]])
    out = []
    for engine, mine in by_engine.items():
        last = mine[-1]
        assert last.grade is not None
        before = mine[-2].grade if len(mine) > 1 else None
        jump = 0 if before is None else last.grade - before
        chance = None
        if fit is not None and last.oil_hours_h is not None and last.grade > 0:
            chance = float(fit.at_least(last.grade, last.oil_hours_h)[0])
        # Metal that was traced and mended at that very check is no sign any more.
        mended = last.result == "found" and bool(last.action) and last.mended
        sign = "" if mended else _sign(last, jump, chance)
        if sign:
            out.append(
                PlugSign(
                    engine=engine,
                    hours_h=last.hours_h,
                    grade=last.grade,
                    jump=jump,
                    chance_of_more=chance,
                    sign=sign,
                )
            )
    out.sort(key=lambda p: (-p.grade, -p.jump, id_order(p.engine)))
    return tuple(out), len(graded)


def _fit(graded: list[CheckRow]) -> GradeFit | None:
    known = [(c.grade, c.oil_hours_h) for c in graded if c.oil_hours_h is not None]
    if len(known) < ENOUGH:
        return None
    try:
        return fit_grades([g for g, _ in known if g is not None], [h for _, h in known])
    except FitError:
        return None


def _sign(last: CheckRow, jump: int, chance: float | None) -> str:
    assert last.grade is not None
    word = GRADES[last.grade]
    if last.grade >= INVESTIGATE:
        return f"{word} on the plug at {last.hours_h:,.0f} h: to be investigated"
    if jump >= JUMP:
        return f"metal rose by {jump} grades to {word} at {last.hours_h:,.0f} h"
    if chance is not None and chance < RARE and last.oil_hours_h is not None:
        usual = "seen in no" if chance < 1e-4 else f"expected in {text_percent(chance)} of"
        return (
            f"{word} only {last.oil_hours_h:.0f} h after the oil change; so much is {usual} "
            "other readings at those hours"
        )
    return ""
