"""Covariates of lives: numbers and group labels as the columns of a design."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from fleetstats.core import arguments
from fleetstats.core.arguments import wrong
from fleetstats.core.errors import FitError
from fleetstats.core.gate import TABLE, TEXTS, an, gate
from fleetstats.core.value import Array, Bools, Floats, Matrix, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.lives import LIVES
from fleetstats.vocabulary.fields.categories import NOT_GIVEN

SOME = 1e-6
"""Share of a column from which another is named as saying the same."""


@value
class Covariates(Value):
    """Columns of a regression, aligned with the spells they were made for.

    Parameters
    ----------
    names : tuple of str
        One per column: the numeric column's own name, or ``"build: B v A"`` for a group level
        against its reference.
    values : (n, k) float
        Numeric columns minus `centre`; 0/1 for group levels.
    steps : (k,) float
        The change for which a life factor is quoted: about one standard deviation, rounded to a
        plain figure, for numbers; 1 for group levels.
    centre : (k,) float
        Mean taken off each numeric column; 0 for group levels.
    deviation : (k,) float
        Standard deviation of each column.
    keep : (n0,) bool
        Which of the spells handed in are among the n rows.
    set_aside : tuple of (str, int)
        Reasons and numbers of the spells left out.
    """

    names: tuple[str, ...]
    values: Matrix
    steps: Floats
    centre: Floats
    deviation: Floats
    keep: Bools
    set_aside: tuple[tuple[str, int], ...]

    @property
    def design(self) -> Array:
        """Return (n, 1 + k): a column of ones, then the covariates."""
        return np.column_stack([np.ones(len(self.values)), self.values])


COVARIATES = an(Covariates, "Build them by build_covariates(spells, numbers).")


@gate(spells=LIVES, numbers=TABLE, groups=TEXTS, labels=TABLE.or_none)
def build_covariates(
    spells: Spells,
    numbers: Mapping[str, Array],
    *,
    groups: tuple[str, ...] = (),
    labels: Mapping[str, Array] | None = None,
) -> Covariates:
    """Return the design columns for numeric covariates, columns of words and group labels.

    Parameters
    ----------
    spells : Spells
        n0 lives.
    numbers : mapping of str to (n0,) float
        Numeric covariates by name; NaN where a life has none.
    groups : tuple of {"build", "source"}
        Labels that become 0/1 columns; the level with most failures (then most hours) is the
        reference.
    labels : mapping of str to (n0,) str
        Levels by column of words; none is blank. They are coded against the commonest level
        (`commonest`).

    Returns
    -------
    Covariates
        For the regressions; names, steps and centres of its columns with it.

    Raises
    ------
    FitError
        If a column has the wrong length, an infinite value or an unknown group is named.

    Notes
    -----
    A life with a missing number or a blank label is set aside and counted: no value is made up
    for it. A numeric column without spread is refused by name, and so is a column that says what
    others before it say already, as where every engine of a build has one use.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> import numpy as np
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(200, 1400, 100), [0, 1] * 6)
    >>> design = fs.build_covariates(lives, {"oil temperature": np.arange(12) % 4 + 90})
    >>> design.names
    ('oil temperature',)
    """
    numbers = {
        k: arguments.column(
            v, f"numbers['{k}']", "Give one number for each life, NaN where it has none."
        )
        for k, v in numbers.items()
    }
    keep, aside = _complete(spells, numbers, groups)
    names: list[str] = []
    columns: list[Array] = []
    steps: list[float] = []
    centres: list[float] = []
    for name, told in numbers.items():
        x = told[keep]
        if not len(x) or np.ptp(x) == 0.0:
            aside.append((f"column {name} without spread left out", 0))
            continue
        names.append(name)
        centres.append(float(x.mean()))
        columns.append(x - x.mean())
        steps.append(plain_step(float(x.std())))
    kept = spells if keep.all() else spells.select(keep)
    for name, words in (labels or {}).items():
        mine = np.asarray(words)[keep]
        reference = commonest(kept, mine)
        for level in sorted(set(mine.tolist()) - {reference}):
            names.append(f"{name}: {level} v {reference}")
            columns.append((mine == level).astype(float))
            centres.append(0.0)
            steps.append(1.0)
    for group in groups:
        for level, reference in _levels(kept, group):
            names.append(f"{group}: {level} v {reference}")
            columns.append((getattr(kept, group) == level).astype(float))
            centres.append(0.0)
            steps.append(1.0)
    values = np.column_stack(columns) if columns else np.zeros((int(keep.sum()), 0))
    own = _independent(values)
    aside += [
        (f"{x}, which cannot be told apart from {of}", 0)
        for x, of in _said_before(names, values, own)
    ]
    values = values[:, own]
    return Covariates(
        names=tuple(x for x, new in zip(names, own, strict=True) if new),
        values=values,
        steps=np.array(steps)[own],
        centre=np.array(centres)[own],
        deviation=values.std(axis=0) if values.size else np.zeros(values.shape[1]),
        keep=keep,
        set_aside=tuple(aside),
    )


def _complete(
    spells: Spells, numbers: Mapping[str, Array], groups: tuple[str, ...]
) -> tuple[Array, list[tuple[str, int]]]:
    """Return (n0,) bool of the lives that have every number and label, and how many have not."""
    n = len(spells)
    keep = np.ones(n, dtype=bool)
    aside: list[tuple[str, int]] = []
    for name, column in numbers.items():
        x = np.asarray(column, dtype=float)
        if x.shape != (n,) or np.isinf(x).any():
            raise FitError(
                f"Covariate '{name}' has {x.shape} values or an infinite one.",
                f"It needs one finite number for each of {n} lives; blanks are allowed.",
            )
        missing = np.isnan(x) & keep
        if missing.any():
            aside.append((f"{name} not given", int(missing.sum())))
            keep &= ~missing
    for group in groups:
        if group not in ("build", "source"):
            raise FitError(f"Lives cannot be grouped by '{group}'.", "Use 'build' or 'source'.")
        blank = (getattr(spells, group) == "") & keep
        if blank.any() and not blank[keep].all():
            aside.append((f"{group} not given", int(blank.sum())))
            keep &= ~blank
    return keep, aside


def commonest(spells: Spells, labels: Array) -> str:
    """Return the level that others are set against: most hours at risk, among those that failed.

    A level without a failure gives no ratio, and `NOT_GIVEN` is nobody's use, so neither is taken
    where there is another.

    Parameters
    ----------
    spells : Spells
        n lives.
    labels : (n,) str
        Their levels.
    """
    rank = []
    for level in sorted(set(labels.tolist())):
        part = spells.select(labels == level)
        rank.append((level == NOT_GIVEN, part.n_failed == 0, -part.exposure_h, level))
    return str(min(rank)[-1])


def _independent(values: Array) -> Array:
    """Return (k,) bool: which columns say something that a constant and those before do not."""
    n, k = values.shape
    out = np.zeros(k, dtype=bool)
    if not n:
        return out
    reach = np.abs(values).max(axis=0)
    design = np.column_stack([np.ones(n), values / np.where(reach > 0.0, reach, 1.0)])
    # The triangle holds all that the rank of any of its columns hangs on, in k rows for n.
    triangle = np.asarray(np.linalg.qr(design, mode="r"))
    own = [0]
    for j in range(k):
        sizes = np.linalg.svd(triangle[:, [*own, j + 1]], compute_uv=False)
        # As numpy's own rank, of the columns themselves.
        least = sizes.max() * max(n, len(own) + 1) * np.finfo(np.float64).eps
        out[j] = np.count_nonzero(sizes > least) > len(own)
        own += [j + 1] if out[j] else []
    return out


def _said_before(names: list[str], values: Array, own: Array) -> list[tuple[str, str]]:
    """Return the columns that say nothing of their own, each with those that say it."""
    found = []
    for j in np.flatnonzero(~own):
        before = [i for i in range(j) if own[i]]
        design = np.column_stack([np.ones(len(values)), values[:, before]])
        share = np.linalg.lstsq(design, values[:, j], rcond=None)[0][1:]
        said = [names[i] for i, s in zip(before, share, strict=True) if abs(s) > SOME]
        found.append((names[j], " and ".join(said) or "the rest"))
    return found


def _levels(spells: Spells, group: str) -> list[tuple[str, str]]:
    labels = getattr(spells, group)
    rank = []
    for level in np.unique(labels).tolist():
        part = spells.select(labels == level)
        rank.append((-part.n_failed, -part.exposure_h, level))
    rank.sort()
    return [(level, rank[0][2]) for _, _, level in rank[1:]]


def plain_step(deviation: float) -> float:
    """Round a standard deviation to 1, 2 or 5 times a power of ten, for a readable step."""
    power = 10.0 ** math.floor(math.log10(deviation))
    lead = deviation / power
    return power * (1.0 if lead < 1.5 else 2.0 if lead < 3.5 else 5.0 if lead < 7.5 else 10.0)


def lives_behind(spells: Spells, covariates: Covariates) -> Spells:
    """Return the lives of the rows of `covariates`, of those that they were built from.

    Raises
    ------
    ArgumentError
        If they were built from another number of lives.
    FitError
        If no column is left in them.
    """
    if len(covariates.keep) != len(spells):
        raise wrong(
            "covariates", covariates,
            f"They were built for {len(covariates.keep)} lives, not for the {len(spells)} of "
            "spells: build them from the same.",
        )  # fmt: skip
    if not covariates.names:
        raise FitError("There is no covariate to fit.", "Name at least one with some spread.")
    return spells if covariates.keep.all() else spells.select(covariates.keep)
