"""From last year's advice to this year's, one change at a time.

Assumptions change first; then how records are read and what their endings count as, by the later
study's maps, rules and treatments; then the records: further hours of engines known to both, then
how their lives ended, then engines that are gone, then engines that are new. Each step is run in
full, so the sum of the moves is the whole move, and each is owned by one cause. The order is stated
and fixed: another order would share the same total out in another way.
"""

from __future__ import annotations

import numpy as np

from fleetstats.advice.advice import VERDICTS
from fleetstats.advice.key_figures import AdviceFigure, advising
from fleetstats.core.units import text_hours
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells
from fleetstats.studies.compare.engines import spelt_alike
from fleetstats.studies.compare.settings import SettingChange, compare_settings
from fleetstats.study.study import Study
from fleetstats.vocabulary.wording import listed


@value
class DataChange(Value):
    """What happened to the records between two studies."""

    engines_both: int
    engines_new: int
    engines_gone: int
    hours_added: float
    failures_added: float
    exposure_before_h: float
    exposure_after_h: float
    failures_before: float
    failures_after: float


@value
class WalkStep(Value):
    """One step: what changed, and the advice after it.

    `move_h` is the move of plan-from since the last step that had one; None where this step has
    none.
    """

    key: str
    what: str
    figure: AdviceFigure
    move_h: float | None


@value
class Walk(Value):
    """The whole way from one study's advice to another's."""

    before: str
    after: str
    settings: tuple[SettingChange, ...]
    data: DataChange
    steps: tuple[WalkStep, ...]
    sentence: str
    trouble: str = ""


def walk_advice(
    old: Study,
    old_spells: Spells,
    new: Study,
    new_spells: Spells,
    *,
    read_anew: Spells | None = None,
    trouble: str = "",
) -> Walk:
    """Return what changed between two studies of one fleet, and what each change did.

    Parameters
    ----------
    old, new : Study
        The earlier and the later study.
    old_spells, new_spells : Spells
        Their lives; engines are matched by id.
    read_anew : Spells, optional
        The earlier records as the later study reads them (`reread`), where that differs.
    trouble : str
        Why they could not be read so; what maps and rules did is then among the records' steps.
    """
    was, now = advising(old.settings), advising(new.settings)
    known_spells = old_spells = spelt_alike(old_spells, new_spells)
    reading = []
    if read_anew is not None:
        old_spells = spelt_alike(read_anew, new_spells)
        if old_spells != known_spells:  # maps that read every row as before are no step
            reading = [("reading", "the new study's maps, rules and treatments", old_spells)]
    both = np.intersect1d(old_spells.unit, new_spells.unit)
    further = _further(old_spells, new_spells, both)
    ended = _take(old_spells, new_spells, both)
    kept = ended.select(np.isin(ended.unit, new_spells.unit))
    stages = [
        ("settings", "the new study's settings", known_spells),
        *reading,
        ("hours", "further hours of engines in both", further),
        ("endings", "how lives of engines in both ended", ended),
        ("gone", "engines no longer in the records left out", kept),
        ("new", "engines new to the records", new_spells),
    ]
    known = was(known_spells)
    steps = [WalkStep(key="before", what="the earlier study", figure=known, move_h=None)]
    for key, what, spells in stages:
        after = now(spells)
        steps.append(WalkStep(key=key, what=what, figure=after, move_h=known.change_h(after)))
        # a step without hours passes its move on, so that the moves still add up to the whole
        known = known if after.plan_from_h is None else after
    settings = compare_settings(old, new)
    data = _data(known_spells, new_spells)
    return Walk(
        before=str(old.settings.study.analysis_date),
        after=str(new.settings.study.analysis_date),
        settings=settings,
        data=data,
        steps=tuple(steps),
        sentence=_sentence(steps, settings, data),
        trouble=trouble,
    )


def _end_of(spells: Spells) -> tuple[Array, Array]:
    """Return each unit's last event and greatest hours, in the order of the sorted units."""
    units, inverse = np.unique(spells.unit, return_inverse=True)
    order = np.lexsort((spells.exit_upper, inverse))
    last = np.searchsorted(inverse[order], np.arange(len(units)), side="right") - 1
    return units, order[last]


def _further(old: Spells, new: Spells, both: Array) -> Spells:
    """Old lives, with the new hours of engines that ran on and whose ending did not change."""
    old_units, old_last = _end_of(old)
    new_units, new_last = _end_of(new)
    same = [
        u
        for u in both
        if old.event[old_last[np.searchsorted(old_units, u)]]
        == new.event[new_last[np.searchsorted(new_units, u)]]
    ]
    return _take(old, new, np.array(same, dtype=old.unit.dtype))


def _take(old: Spells, new: Spells, units: Array) -> Spells:
    """Old lives with those of `units` replaced by the new ones.

    Failures that no spell counts stay those of the old study: they change with the last step.
    """
    taken = old.select(~np.isin(old.unit, units)).join(new.select(np.isin(new.unit, units)))
    return taken.with_left_out(old.left_out)


def _data(old: Spells, new: Spells) -> DataChange:
    both = np.intersect1d(old.unit, new.unit)
    return DataChange(
        engines_both=len(both),
        engines_new=len(np.setdiff1d(new.unit, old.unit)),
        engines_gone=len(np.setdiff1d(old.unit, new.unit)),
        hours_added=new.exposure_h - old.exposure_h,
        failures_added=new.n_failed - old.n_failed,
        exposure_before_h=old.exposure_h,
        exposure_after_h=new.exposure_h,
        failures_before=old.n_failed,
        failures_after=float(new.weight[new.event == Event.FAILED].sum()),
    )


def _sentence(steps: list[WalkStep], settings: tuple[SettingChange, ...], data: DataChange) -> str:
    first, last = steps[0].figure, steps[-1].figure
    records = (
        f"The records hold {data.failures_after:g} failures in {data.exposure_after_h:,.0f} engine "
        f"hours, where they held {data.failures_before:g} in {data.exposure_before_h:,.0f}; "
        f"{len(settings)} setting{' differs' if len(settings) == 1 else 's differ'}."
    )
    return f"{_move(steps)}{_turns(first.verdict, last.verdict)} {records}"


def _move(steps: list[WalkStep]) -> str:
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
    moves = [s for s in steps[1:] if s.move_h]
    if not moves:
        return f"The advice still begins at {text_hours(last.plan_from_h)}: no step moved it.{gap}"
    main = max(moves, key=lambda s: abs(s.move_h or 0.0))
    whole = last.plan_from_h - first.plan_from_h
    how = "did not move in all" if not whole else (
        f"moved {text_hours(abs(whole))} {'later' if whole > 0 else 'earlier'}"
    )  # fmt: skip
    return (
        f"The start of the overhaul band {how}, from {text_hours(first.plan_from_h)} to "
        f"{text_hours(last.plan_from_h)}. Most of it came from {main.what} "
        f"({'+' if (main.move_h or 0) > 0 else '−'}{text_hours(abs(main.move_h or 0.0))}).{gap}"
    )


def _turns(before: str, after: str) -> str:
    if before == after or not before or not after:
        return ""
    return f" The verdict on the claim went from “{VERDICTS[before]}” to “{VERDICTS[after]}”."
