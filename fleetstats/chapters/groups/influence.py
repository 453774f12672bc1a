"""Which single engine or source carries the conclusion? Each is left out, and the advice redone.

What counts is the change in the advice, in hours and in words, not in a parameter.
"""

from __future__ import annotations

import numpy as np

from fleetstats.advice.carried import Weighing
from fleetstats.advice.key_figures import AdviceFigure, Advising
from fleetstats.core.errors import FitError
from fleetstats.core.value import Value, value
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.weibull.fit_weibull import solve_weibull, try_fit
from fleetstats.survival.weibull.without_each import fits_without

MOST_GROUPS = 12
"""Sources or builds that are left out in turn, those with most engines first."""

MOST_ENGINES = 3
"""Engines for which the whole advice is redone: those that move the fitted life most."""

MOST_REFITS = 600
"""Engines that are refitted to find them; in larger fleets the failed and the oldest."""


@value
class InfluenceLine(Value):
    """The advice with one source, build or engine left out.

    `change_h` is the move of the start of the overhaul band, `change_life_h` that of the target
    life's lower edge; None where either advice has none. `turns` says that the verdict or the
    state of the band becomes another; `beyond_chance`, asked only then, that the answer moves more
    than the loss of as many engines explains (`advice/carried.py`).
    """

    kind: str
    name: str
    n_out: int
    n_failed_out: float
    figure: AdviceFigure
    change_h: float | None
    change_life_h: float | None
    turns: bool
    beyond_chance: bool = False

    @property
    def carries(self) -> bool:
        """Return whether the conclusion hangs on this one."""
        return self.turns and self.beyond_chance


def advise_influence(
    spells: Spells,
    settings: Settings,
    *,
    base: AdviceFigure,
    advise: Advising,
    single: bool = True,
) -> tuple[tuple[InfluenceLine, ...], int]:
    """Return the advice with each source, each build and the weightiest engines left out.

    Parameters
    ----------
    spells : Spells
        All lives.
    settings : Settings
        Target reliability (for the ranking of engines) and groups.
    base : AdviceFigure
        Advice from all lives, made by `advise`.
    advise : callable
        Lives to figures.
    single : bool
        Whether rows are lives of engines, so that engines can be left out.

    Returns
    -------
    (tuple of InfluenceLine, int)
        The lines, and how many engines were refitted to find the weightiest.
    """
    weighed = Weighing.of(spells, try_fit(spells), settings)
    lines = []
    for by in [g for g in settings.groups.by if g in ("source", "build")]:
        labels = getattr(spells, by)
        names, place = np.unique(labels, return_inverse=True)
        count = np.bincount(place.ravel(), weights=spells.weight)
        if len(names) < 2:
            continue
        lines += [
            _line(by, by, name, base, advise, weighed, tried=min(len(names), MOST_GROUPS))
            for name in names[np.argsort(-count, kind="stable")][:MOST_GROUPS].tolist()
        ]
    if not single:
        return tuple(lines), 0
    ranked, compared = rank_engines(spells, 1.0 - settings.targets.reliability)
    lines += [
        _line("engine", "unit", name, base, advise, weighed) for name in ranked[:MOST_ENGINES]
    ]
    return tuple(lines), compared


def _line(
    kind: str,
    column: str,
    name: str,
    base: AdviceFigure,
    advise: Advising,
    weighed: Weighing,
    *,
    tried: int = 1,
) -> InfluenceLine:
    spells = weighed.spells
    out = getattr(spells, column) == name
    rest = spells.of_group(column, name, others=True)
    figure = advise(rest)
    life = None
    if base.life_low_h is not None and figure.life_low_h is not None:
        life = figure.life_low_h - base.life_low_h
    turns = figure.verdict != base.verdict or figure.state != base.state
    return InfluenceLine(
        kind=kind,
        name=name or "not given",
        n_out=round(float(spells.weight[out].sum())),
        n_failed_out=spells.n_failed - rest.n_failed,
        figure=figure,
        change_h=base.change_h(figure),
        change_life_h=life,
        turns=turns,
        beyond_chance=turns and weighed.carries(column, name, tried=tried),
    )


def rank_engines(spells: Spells, p: float) -> tuple[list[str], int]:
    """Return engines by how far the fitted life of share `p` moves without them, and their number.

    Without a fit the engines with most hours come first: they carry a bound from few failures.
    """
    names, place = np.unique(spells.unit, return_inverse=True)
    if len(names) < 3:
        return [], 0
    middle = np.where(
        spells.interval_known, 0.5 * (spells.exit_lower + spells.exit_upper), spells.exit_upper
    )
    oldest = np.zeros(len(names))
    np.maximum.at(oldest, place, middle)
    failed = np.zeros(len(names), dtype=bool)
    failed[place[spells.failed]] = True
    order = np.lexsort((-oldest, ~failed))[:MOST_REFITS]
    log_power = float(np.log(-np.log1p(-p)))
    try:
        whole = solve_weibull(spells.entry, middle, spells.failed, spells.weight)
    except FitError:
        by_age = np.argsort(-oldest, kind="stable")
        return names[by_age].tolist(), len(names)
    base = np.log(whole.scale_h) + log_power / whole.shape
    lives = (spells.entry, middle, spells.failed, spells.weight)
    shape, scale_h = fits_without(lives, place, order, whole)
    moved = np.zeros(len(names))
    moved[order] = np.abs(np.log(scale_h) + log_power / shape - base)
    for i in order[np.isnan(moved[order])]:
        keep = place != i
        try:
            one = solve_weibull(
                spells.entry[keep],
                middle[keep],
                spells.failed[keep],
                spells.weight[keep],
                start_shape=whole.shape,
            )
            moved[i] = abs(np.log(one.scale_h) + log_power / one.shape - base)
        except FitError:
            moved[i] = np.inf  # without it there is no fit at all: nothing weighs more
    best = order[np.argsort(-moved[order], kind="stable")]
    return names[best].tolist(), len(order)
