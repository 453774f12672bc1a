"""Sentences on trends, made from the numbers alone."""

from __future__ import annotations

from fleetstats.chapters.trends.values import CylinderTrend, Trends
from fleetstats.core.units import text_hours, text_number, text_percent
from fleetstats.vocabulary.wording import count, listed


def trend_sentences(t: Trends) -> tuple[str, ...]:
    """Say who is to be looked at, how the fleet falls, how noisy readings are, what is untold."""
    out: list[str] = []
    if t.cylinders:
        out += _cylinders(t)
    if t.plugs:
        names = [f"{p.engine} ({p.sign})" for p in t.plugs[:4]]
        out.append(f"Metal on the plug: look first at {listed(names)}.")
    elif t.n_plug:
        out.append(f"No engine stands out in {count(t.n_plug, 'reading')} of metal on the plug.")
    if t.oils:
        names = [f"{o.engine} ({o.sign})" for o in t.oils[:4]]
        out.append(f"Oil use: {listed(names)}.")
    elif t.n_oil:
        out.append(f"No engine's oil use stands out in {count(t.n_oil, 'reading')}.")
    return tuple(out)


def _cylinders(t: Trends) -> list[str]:
    first = t.look_first
    total = len(t.cylinders)
    out = []
    if first:
        names = [f"{c.engine} cylinder {c.cylinder} ({c.signs[0]})" for c in first[:3]]
        more = f", and {len(first) - 3} more" if len(first) > 3 else ""
        out.append(f"Look first at {listed(names)}{more}.")
    else:
        out.append(f"Nothing in {count(total, 'cylinder')} asks for a look before the next check.")
    likely = [c for c in t.cylinders if c.chance_below is not None and not c.look_first]
    if likely:
        c = max(likely, key=lambda x: x.chance_below or 0.0)
        out.append(_ahead(c))
    faster = sum(c.state == "faster" for c in t.cylinders)
    few = sum(c.state == "too-few" for c in t.cylinders)
    fall = t.fleet_fall_per_100_h
    if fall is not None:
        out.append(
            f"The fleet's readings fall by {text_number(fall.estimate, digits=2)} {t.unit} per "
            f"100 h ({text_number(fall.low, digits=2)} to {text_number(fall.high, digits=2)}); a "
            f"faster fall is shown for {faster or 'none'} of {count(total, 'cylinder')}."
        )
    if few:
        out.append(
            f"{count(few, 'cylinder has', 'cylinders have')} fewer than {t.min_readings} checks "
            "since new or the last repair; no trend is claimed there."
        )
    if t.noise:
        out.append(
            f"One reading is uncertain by about {text_number(t.noise['noise'], digits=2)} {t.unit} "
            f"of its own and {text_number(t.noise['check'], digits=2)} {t.unit} common to all "
            "cylinders of a check (tester, gauge, temperature): one low reading is no trend."
        )
    if t.n_replaced:
        out.append(
            f"{count(t.n_replaced, 'reading was', 'readings were')} replaced by a retest; both "
            "stay in the records."
        )
    return out


def _ahead(c: CylinderTrend) -> str:
    assert c.chance_below is not None
    until = c.to_limit_h
    hours = ""
    if until is not None and until.low is not None:
        high = "no upper limit" if until.high is None else text_hours(until.high)
        hours = (
            "; its level is at the limit already"
            if until.high is not None and text_hours(until.high) == text_hours(0.0)
            else f"; its level is at the limit after {text_hours(until.low)} to {high} more"
        )
    return (
        f"Of the others, {c.engine} cylinder {c.cylinder} has the greatest chance of reading below "
        f"its limit at the next check, at {text_hours(c.next_h)}: {text_percent(c.chance_below)}"
        f"{hours}."
    )
