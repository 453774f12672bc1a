"""From last year's advice to this year's, one change at a time.

Assumptions change first; then how records are read and what their endings count as, by the later
study's maps, rules and treatments; then the records: further hours of engines known to both, then
how their lives ended, then engines that are gone, then engines that are new. Each step is run in
full, so the sum of the moves is the whole move, and each is owned by one cause. The order is stated
and fixed: another order would share the same total out in another way.
"""

from __future__ import annotations

from collections import Counter

import numpy as np

from fleetstats.advice.key_figures import advising
from fleetstats.core.gate import TEXT, gate
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells
from fleetstats.studies.compare.engines import spelt_alike
from fleetstats.studies.compare.grade import Grade
from fleetstats.studies.compare.members import GoneEngine, NewEngine
from fleetstats.studies.compare.settings import SettingChange, compare_settings
from fleetstats.studies.compare.steps import DataChange, WalkStep
from fleetstats.studies.compare.walk_words import walk_sentence
from fleetstats.study.study import STUDY, Study
from fleetstats.survival.lives import LIVES


@value
class Walk(Value):
    """The whole way from one study's advice to another's.

    `last_year`, `gone` and `joined` are what became of the earlier forecast and of the engines,
    where the rows behind the lives are at hand (`with_year`).
    """

    before: str
    after: str
    settings: tuple[SettingChange, ...]
    data: DataChange
    steps: tuple[WalkStep, ...]
    sentence: str
    trouble: str = ""
    last_year: Grade | None = None
    gone: tuple[GoneEngine, ...] = ()
    gone_said: tuple[str, ...] = ()
    joined: tuple[NewEngine, ...] = ()
    joined_said: tuple[str, ...] = ()


@gate(
    old=STUDY, old_spells=LIVES, new=STUDY, new_spells=LIVES, read_anew=LIVES.or_none, trouble=TEXT
)
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

    Returns
    -------
    Walk
        Steps in their order, each with the advice after it and by how many hours that moved.

    Examples
    --------
    >>> import fleetstats as fs
    >>> old, new = (
    ...     fs.read_study("datasets/on-condition-2025"),
    ...     fs.read_study("datasets/on-condition"),
    ... )
    >>> lives = []
    >>> for study in (old, new):
    ...     records = fs.read_records(study)
    ...     lives.append(
    ...         fs.build_spells(study, records, fs.audit_records(study, records)).spells
    ...     )
    >>> walk = fs.walk_advice(old, lives[0], new, lives[1])
    >>> print(walk.sentence)
    The start of the overhaul band moved 250 h earlier, from 700 h to 450 h. Most of it ...
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
        sentence=walk_sentence(steps, len(settings), data),
        trouble=trouble,
    )


def _end_of(spells: Spells) -> tuple[Array, Array]:
    """Return each unit's last event and greatest hours, in the order of the sorted units."""
    units, inverse = np.unique(spells.unit, return_inverse=True)
    order = np.lexsort((spells.exit_upper, inverse))
    last = np.searchsorted(inverse[order], np.arange(len(units)), side="right") - 1
    return units, order[last]


def _further(old: Spells, new: Spells, both: Array) -> Spells:
    """Old lives, with the new hours of engines that ran on and whose endings did not change.

    An engine that failed, was mended and runs again ends as it did before, but failed in between:
    its endings changed.
    """
    old_units, old_last = _end_of(old)
    new_units, new_last = _end_of(new)
    was, now = _endings_of(old), _endings_of(new)
    same = [
        u
        for u in both
        if old.event[old_last[np.searchsorted(old_units, u)]]
        == new.event[new_last[np.searchsorted(new_units, u)]]
        and was.get(str(u)) == now.get(str(u))
    ]
    return _take(old, new, np.array(same, dtype=old.unit.dtype))


def _endings_of(spells: Spells) -> dict[str, Counter[int]]:
    """Return how often each unit's lives ended in each event but by running on or leaving."""
    out: dict[str, Counter[int]] = {}
    for unit, event in zip(spells.unit, spells.event, strict=True):
        if event != Event.CENSORED:
            out.setdefault(str(unit), Counter())[int(event)] += 1
    return out


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
