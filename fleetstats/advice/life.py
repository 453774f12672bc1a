"""Answer (c): the hours that the target share of engines should reach."""

from __future__ import annotations

from dataclasses import replace

from fleetstats.advice.advice import ReliabilityAnswer, ShapeLine
from fleetstats.advice.clock_doubt.doubts import clocks_sure
from fleetstats.advice.equivalents import hours_shown, life_equivalents, poisson_allowance
from fleetstats.advice.left_out import held_to_left_out, say_counted
from fleetstats.advice.quoted import Quoter, no_best_shape
from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.wording import count, hours_down, hours_near, stated


def beyond(interval: Interval, supported_h: float) -> tuple[bool, bool, bool]:
    """Return for low, estimate and high whether they lie beyond the evidence."""
    a, b, c = (
        x is not None and x > supported_h for x in (interval.low, interval.estimate, interval.high)
    )
    return a, b, c


def life_over_shapes(spells: Spells, settings: Settings, target: float) -> tuple[ShapeLine, ...]:
    """Return the lower bound of the B-life for each assumed shape, the earliest marked."""
    confidence = 0.5 * (1.0 + settings.study.confidence)
    m = poisson_allowance(spells.n_failed, confidence)
    at = max(spells.oldest_h, 1e-300)
    shapes = sorted(settings.evidence.shapes)
    n = life_equivalents(spells, shapes, at)
    lows = [at * hours_shown(float(x), m, target, shape=b) for x, b in zip(n, shapes, strict=True)]
    return tuple(
        ShapeLine(shape=b, low_h=v, least_favourable=v == min(lows))
        for b, v in zip(shapes, lows, strict=True)
    )


def no_estimate(spells: Spells) -> str:
    """Say in a few words why an estimate is missing."""
    if no_best_shape(spells):
        return "no estimate: all failures may lie at one age"
    return "too few failures for an estimate"


def _middle(life: Interval, spells: Spells) -> str:
    """Say what the best estimate is worth where failures are few."""
    if no_best_shape(spells):
        return (
            f"All {count(spells.n_failed, 'failure')} may lie at one age, so no shape is the best "
            "and there is no estimate; "
            + (
                "no upper limit follows either."
                if life.high is None
                else f"the life is at most {hours_near(life.high)} on the optimistic side."
            )
        )
    if life.estimate is None:
        return f"There are {no_estimate(spells)}."
    seen = count(spells.n_failed, "failure")
    return (
        f"The best estimate, {hours_near(life.estimate)}, rests on the stated prior on the shape "
        f"as well as on {seen}."
    )


def advise_life(lives: Quoter, supported_h: float) -> ReliabilityAnswer:
    """Return the B-life for the study's target reliability with its band.

    Its lower edge is no better than with the failures that the records leave out.

    Parameters
    ----------
    lives : Quoter
        The fleet, with the study's target, confidence and shapes.
    supported_h : float
        Evidence horizon in hours.
    """
    target = lives.settings.targets.reliability
    life = held_to_left_out(lives, Quantity.life(1.0 - target))
    if lives.few and lives.recorded is not None:
        # an age estimated from made-up failures would be made up itself
        life = replace(life, estimate=None, high=None)
    edges = beyond(life, supported_h)
    side = f"{50 * (1 + life.level):g} %"
    name = f"{stated(target)} of engines"
    state = "answered"
    if life.low is None or life.low <= 0:
        state = "not-enough-evidence"
        text = f"The records set no lower limit to the hours that {name} reach without the failure."
    elif lives.few:
        text = (
            f"The records support that {name} reach {hours_down(life.low)} without the failure "
            f"(one-sided {side} lower bound, {life.note_low}). {_middle(life, lives.spells)}"
        )
    else:
        told = life.method in ("shape-free", "near-claim") or not clocks_sure(
            lives.spells, lives.settings.clocks
        )
        held = f", {life.note_low}" if told and life.note_low else ""
        text = (
            f"{name} are estimated to reach {hours_near(life.estimate)} without the failure; the "
            f"records support {hours_down(life.low)} (one-sided {side} lower bound{held}), and "
            + (
                "set no upper limit."
                if life.high is None
                else f"not more than {hours_near(life.high)} on the optimistic side."
            )
        )
    if any(edges):
        words = [
            w for w, e in zip(("lower bound", "estimate", "upper limit"), edges, strict=True) if e
        ]
        if lives.few:
            words = [w for w in words if w == "lower bound"]
        if words:
            verb = "lies" if len(words) == 1 else "lie"
            text += (
                f" The {' and the '.join(words)} {verb} beyond {supported_h:,.0f} h, where the "
                "evidence ends: extrapolation."
            )
    if lives.spells.left_out and not (lives.few and life.note_low.startswith("counting")):
        text += f" {say_counted(lives.spells.left_out)}"
    return ReliabilityAnswer(
        state=state,
        sentence=text,
        target=target,
        life=life,
        extrapolated=edges,
        over_shapes=life_over_shapes(lives.spells, lives.settings, target),
    )
