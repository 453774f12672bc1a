"""The walk in a sentence: how far the advice moved, what moved it, and how."""

from __future__ import annotations

from collections.abc import Sequence

from fleetstats.advice.advice import VERDICTS
from fleetstats.advice.key_figures import AdviceFigure
from fleetstats.core.units import text_hours
from fleetstats.studies.compare.steps import DataChange, WalkStep
from fleetstats.vocabulary.wording import listed

AGAINST = {"hours": -1, "endings": 1}
"""Sign of a move that a step makes only by a way round: hours without a failure should carry the
band later, failures earlier."""

SHAPES_ALIKE = 0.005
"""Change of a shape that shows in no figure of the report."""


def walk_sentence(steps: Sequence[WalkStep], n_settings: int, data: DataChange) -> str:
    """Return the whole walk in words: the move and its reasons, the verdict, the records."""
    first, last = steps[0].figure, steps[-1].figure
    records = (
        f"The records hold {data.failures_after:g} failures in {data.exposure_after_h:,.0f} engine "
        f"hours, where they held {data.failures_before:g} in {data.exposure_before_h:,.0f}; "
        f"{n_settings} setting{' differs' if n_settings == 1 else 's differ'}."
    )
    return f"{_move(steps)}{_turns(first.verdict, last.verdict)} {records}"


def say_how(before: AdviceFigure, after: AdviceFigure) -> str:
    """Say by which figures of the advice a step moved the start of its band, as a clause."""
    said = []
    new = after.n_failed - before.n_failed
    if new > 0:
        said.append(f"{new:g} more failed")
    a, b = before.shape, after.shape
    if a is not None and b is not None and abs(b - a) >= SHAPES_ALIKE:
        way = (
            "more of the risk lies at few hours" if b < a else "more of the risk lies at many hours"
        )
        said.append(f"the shape went from {a:.2f} to {b:.2f}, so that {way}")
    if before.governed_by != after.governed_by and before.governed_by and after.governed_by:
        said.append(f"the start is set by {after.governed_by} now, not by {before.governed_by}")
    if not said or (len(said) == 1 and new > 0):
        low, high = before.life_low_h, after.life_low_h
        if low is not None and high is not None and text_hours(low) != text_hours(high):
            said.append(
                "the pessimistic edge of the age that the target share reaches went from "
                f"{text_hours(low)} to {text_hours(high)}"
            )
    return listed(said) or "the figures are rounded to 50 h, and theirs lay near a step"


def _move(steps: Sequence[WalkStep]) -> str:
    first, last = steps[0].figure, steps[-1].figure
    if first.plan_from_h is None or last.plan_from_h is None:
        gives = "neither study gives one" if first.plan_from_h == last.plan_from_h else (
            "the earlier study gave none, the later gives one"
            if first.plan_from_h is None
            else "the earlier study gave one, the later gives none"
        )  # fmt: skip
        return f"On an overhaul band: {gives}."
    without = [s.what for s in steps if s.figure.plan_from_h is None]
    steps_said = listed([f"“{w}”" for w in without])
    gap = f" At {steps_said} there is no band." if without else ""
    if not any(s.move_h for s in steps[1:]):
        return f"The advice still begins at {text_hours(last.plan_from_h)}: no step moved it.{gap}"
    whole = last.plan_from_h - first.plan_from_h
    how = "did not move in all" if not whole else (
        f"moved {text_hours(abs(whole))} {'later' if whole > 0 else 'earlier'}"
    )  # fmt: skip
    return (
        f"The start of the overhaul band {how}, from {text_hours(first.plan_from_h)} to "
        f"{text_hours(last.plan_from_h)}. {_reasons(steps, whole)}{gap}"
    )


def _reasons(steps: Sequence[WalkStep], whole: float) -> str:
    """Name the step that did most of the move, and those that worked against it."""
    moves = [(i, s) for i, s in enumerate(steps) if i and s.move_h]
    with_it = [x for x in moves if (x[1].move_h or 0.0) * whole > 0]
    against = [x for x in moves if (x[1].move_h or 0.0) * whole < 0]
    if not whole:
        said = listed([_moved(s) for _, s in moves])
        return f"Moves of single steps cancel: {said}.{_ways(steps, moves)}"
    i, main = max(with_it, key=lambda x: abs(x[1].move_h or 0.0))
    other = listed([_moved(s) for _, s in against])
    back = f" Against it worked {other}." if against else ""
    return f"Most of it came from {_moved(main)}.{back}{_ways(steps, [(i, main), *against])}"


def _ways(steps: Sequence[WalkStep], moves: Sequence[tuple[int, WalkStep]]) -> str:
    """Say how a step moved the band where its own name would make one expect the contrary."""
    out = ""
    for i, s in moves:
        if AGAINST.get(s.key, 0) * (s.move_h or 0.0) <= 0:
            continue
        before = next(x.figure for x in reversed(steps[:i]) if x.figure.plan_from_h is not None)
        out += f" How {s.what} did so: {say_how(before, s.figure)}."
    return out


def _moved(s: WalkStep) -> str:
    sign = "+" if (s.move_h or 0) > 0 else "−"
    return f"{s.what} ({sign}{text_hours(abs(s.move_h or 0.0))})"


def _turns(before: str, after: str) -> str:
    if before == after or not before or not after:
        return ""
    return f" The verdict on the claim went from “{VERDICTS[before]}” to “{VERDICTS[after]}”."
