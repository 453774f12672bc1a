"""What the effects of levels are fitted to: levels, numbers, and what they are adjusted for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.life import LifeRow
from fleetstats.spells import Spells
from fleetstats.spells.by_values import ByValues, split_by_values
from fleetstats.study.settings import Settings
from fleetstats.survival.regression.covariates import Covariates, build_covariates
from fleetstats.vocabulary.fields.categories import NOT_GIVEN

YEAR = "year of entry"
"""Covariate that effects are adjusted for where dates tell it."""
DATED = "date of entry"
"""Column of words beside it, for the lives whose date nobody told."""
TOLD = "given"


@dataclass(frozen=True, slots=True, kw_only=True)
class LivesByLevel:
    """The pieces of lives that the chapter looks at, with all that is known of each.

    `numbers` and `labels` hold one value for each piece; `aside` the lives left out with reasons.
    """

    spells: Spells
    labels: dict[str, Array]
    numbers: dict[str, Array]
    year: Array
    aside: tuple[tuple[str, int], ...]
    n_changed: int

    @property
    def builds(self) -> int:
        """Return how many builds are told apart."""
        return len(np.unique(self.spells.build[self.spells.build != ""]))

    @property
    def dated(self) -> bool:
        """Return whether times of entry can be adjusted for: most are known, and they differ."""
        known = self.year[np.isfinite(self.year)]
        return 2 * len(known) > len(self.year) and len(np.unique(known)) > 1

    @property
    def periods(self) -> Array:
        """Return (n,) str: which half of the entries a piece belongs to, by its time."""
        middle = float(np.nanmedian(self.year)) if self.dated else np.inf
        with np.errstate(invalid="ignore"):
            late = np.where(self.year > middle, f"from {middle:.1f} on", f"up to {middle:.1f}")
        out = np.where(np.isfinite(self.year), late, f"{DATED} {NOT_GIVEN}")
        return np.asarray(out if self.dated else np.full(len(self.year), "all years"))

    def strata(self, adjust: tuple[str, ...], beside: str = "") -> Array:
        """Return (n,) str: stratum of each piece, by builds, periods and the columns but `beside`.

        A blank `beside` leaves columns of words out.
        """
        parts = []
        if "build" in adjust and self.builds > 1:
            parts.append(np.where(self.spells.build == "", NOT_GIVEN, self.spells.build))
        if "calendar" in adjust and self.dated:
            parts.append(self.periods)
        if beside:
            parts += [x for c, x in self.labels.items() if c != beside]
        if not parts:
            return np.full(len(self.spells), "all")
        return np.array([", ".join(map(str, p)) for p in zip(*parts, strict=True)], dtype=np.str_)


def lives_by_values(
    rows: tuple[LifeRow, ...], spells: Spells, numbers: Mapping[str, Array], settings: Settings
) -> LivesByLevel:
    """Return the pieces of lives with their levels, as `[categories]` says.

    Parameters
    ----------
    rows : tuple of LifeRow
        The life behind each spell.
    spells : Spells
        The lives.
    numbers : mapping of str to (n,) float
        Numeric covariates.
    settings : Settings
        Table categories.
    """
    keys = settings.categories
    told = tuple(c for c in keys.columns if any(c in x.categories for x in rows))
    cut: ByValues = split_by_values(rows, spells, told, keys.words)
    keep = np.ones(len(cut.spells), dtype=bool)
    aside: list[tuple[str, int]] = []
    if keys.missing == "set-aside":
        for c, own in cut.labels.items():
            blank = keep & (own == NOT_GIVEN)
            if blank.any():
                n = len(np.unique(cut.row[blank]))
                aside.append((f"{c} not given", n))
            keep &= ~blank
    aside += [(f"column {c}, which no row gives", 0) for c in keys.columns if c not in told]
    labels: dict[str, Array] = {}
    for c, told_levels in cut.labels.items():
        mine = told_levels[keep]
        if len(set(mine.tolist())) > 1:
            labels[c] = mine
        else:
            aside.append((f"column {c}, since every life has the same", 0))
    return LivesByLevel(
        spells=cut.spells.select(keep),
        labels=labels,
        numbers={k: np.asarray(v)[cut.row][keep] for k, v in numbers.items()},
        year=cut.entry_year[keep],
        aside=tuple(aside),
        n_changed=cut.n_changed,
    )


def designs(
    lives: LivesByLevel, adjust: tuple[str, ...]
) -> Iterator[tuple[tuple[str, ...], Covariates]]:
    """Yield designs with all that effects are adjusted for, then with ever less of it."""
    can = tuple(
        a
        for a in ("build", "calendar")
        if a in adjust and (lives.builds > 1 if a == "build" else lives.dated)
    )
    sets = [can, ("build",), ("calendar",), ()] if len(can) > 1 else [can, ()]
    for used in dict.fromkeys(sets):
        yield used, _design(lives, used)


def _design(lives: LivesByLevel, used: tuple[str, ...]) -> Covariates:
    numbers, labels = dict(lives.numbers), dict(lives.labels)
    if "calendar" in used:
        known = np.isfinite(lives.year)
        numbers[YEAR] = np.where(known, lives.year, float(lives.year[known].mean()))
        if not known.all():
            labels[DATED] = np.where(known, TOLD, NOT_GIVEN)
    groups = ("build",) if "build" in used else ()
    out = build_covariates(lives.spells, numbers, groups=groups, labels=labels)
    return replace(out, set_aside=(*lives.aside, *out.set_aside))
