"""Which families the data tell apart, said in a sentence."""

from __future__ import annotations

import math
from typing import ClassVar

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.core.gate import TEXTS, gate
from fleetstats.core.units import text_hours
from fleetstats.core.value import Value, value
from fleetstats.spells import Spells
from fleetstats.survival.distribution import DISTRIBUTIONS
from fleetstats.survival.families.family_fits import FAMILIES, fit_family
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import LIVES
from fleetstats.vocabulary.limits import FEW_FOR_TWO

__all__ = ["FAMILIES", "Comparison", "fit_families", "fit_family"]

ALIKE = 2.0
"""Difference in AICc within which families are equally supported (Burnham & Anderson 2002, 2.6)."""

POOR = 10.0
"""Difference above which a family has essentially no support (same place)."""


@value
class Comparison(Value):
    """Every family fitted to the same lives.

    Parameters
    ----------
    fits : tuple of Fit
        Least AICc first.
    refused : dict of str to str
        Why each other family has no fit.
    differences : dict of str to float
        AICc above the least, by family.
    alike, unlikely : tuple of str
        Families within 2 of the least, and those more than 10 above it.
    sentence : str
        What the data can and cannot tell apart.
    """

    _lines: ClassVar[str] = "fits"

    fits: tuple[Fit, ...]
    refused: dict[str, str]
    differences: dict[str, float]
    alike: tuple[str, ...]
    unlikely: tuple[str, ...]
    sentence: str

    _not_in_dict: ClassVar[tuple[str, ...]] = ()

    @property
    def best(self) -> Fit:
        """Return the fit with the least AICc; being least does not make it true."""
        return self.fits[0]

    def fit(self, family: str) -> Fit:
        """Return the fit of one family."""
        for f in self.fits:
            if f.family == family:
                return f
        raise FitError(
            f"There is no fit of family '{family}'.",
            self.refused.get(family, f"Fitted: {', '.join(f.family for f in self.fits)}."),
        )

    def __repr__(self) -> str:
        rows = [
            f"  {f.distribution.title:<23} AICc {f.aicc:.2f} (+{self.differences[f.family]:.2f})"
            for f in self.fits
        ]
        return "\n".join([self.sentence, *rows])


def _join(families: list[str]) -> str:
    names = [DISTRIBUTIONS[f].title for f in families]
    together = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    return f"the {together}"


def _criterion(fit: Fit) -> float:
    """Return AICc, or AIC where there are too few lives for the correction."""
    if math.isnan(fit.aicc):
        return 2 * len(fit.estimate) - 2 * fit.log_likelihood
    return fit.aicc


def _sentence(fits: list[Fit], differences: dict[str, float], spells: Spells) -> str:
    order = [f.family for f in fits]
    alike = [f for f in order if differences[f] <= ALIKE]
    unlikely = [f for f in order if differences[f] > POOR]
    between = [f for f in order if ALIKE < differences[f] <= POOR]
    r = fits[0].n_failed
    few = r < FEW_FOR_TWO and not unlikely
    parts = []
    if len(order) == 1:
        parts.append(f"Only {_join(order)} family could be fitted.")
    elif few:
        equal = "all fit" if len(alike) == len(order) else f"{_join(alike)} fit"
        equal += "s best, which means little" if len(alike) == 1 else " about equally well"
        parts.append(
            f"With {r:g} {'failure' if r == 1 else 'failures'} the data cannot tell which family "
            f"of lives is right; {equal}."
        )
    elif len(alike) == 1:
        parts.append(f"Of the families tried the data favour {_join(alike)}.")
    else:
        parts.append(f"The data do not tell {_join(alike)} apart.")
    if between and not few:
        parts.append(f"They lean against {_join(between)}.")
    if unlikely:
        parts.append(f"They speak clearly against {_join(unlikely)}.")
    parts.extend(_consequence([f for f in fits if differences[f.family] <= ALIKE], spells))
    return " ".join(parts)


def _consequence(fits: list[Fit], spells: Spells) -> list[str]:
    """Say how far the equally supported families differ where it matters."""
    if len(fits) < 2:
        return []
    lives = np.array([float(f.quantile(0.10)) for f in fits])
    low, high = float(lives.min()), float(lives.max())
    reach = spells.horizon_h()
    tail = "beyond the ages well observed" if low > reach else "for fits equally good"
    if high <= 1.1 * low:
        return [
            f"For the age by which 10 % have failed it hardly matters: they give {text_hours(low)} "
            f"to {text_hours(high)}."
        ]
    return [
        f"The age by which 10 % have failed depends on the choice, {text_hours(low)} to "
        f"{text_hours(high)}, {tail}."
    ]


@gate(spells=LIVES, families=TEXTS.or_none)
def fit_families(spells: Spells, families: tuple[str, ...] | None = None) -> Comparison:
    """Fit every family to the same lives and say what the data can and cannot tell apart.

    Parameters
    ----------
    spells : Spells
        Lives of any kind.
    families : tuple of str or None
        Names from `FAMILIES`; None fits all.

    Returns
    -------
    Comparison
        By AICc with n lives (Hurvich & Tsai 1989); differences read as in Burnham & Anderson
        (2002), section 2.6.

    Raises
    ------
    FitError
        If no family can be fitted, with the reason of the first.

    References
    ----------
    Hurvich & Tsai (1989), Biometrika 76, 297-307; Burnham & Anderson (2002), Model Selection and
    Multimodel Inference, section 2.6.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, [400, 650, 800, 900, 1100, 1200], [1, 0, 1, 0, 1, 0])
    >>> [f.family for f in fs.fit_families(lives, ("weibull", "lognormal")).fits]
    ['weibull', 'lognormal']
    """
    fits: list[Fit] = []
    refused: dict[str, str] = {}
    first: FitError | None = None
    for family in families or tuple(FAMILIES):
        try:
            fits.append(fit_family(spells, family))
        except FitError as error:
            refused[family] = error.message
            first = first or error
    if not fits:
        raise first if first is not None else FitError("No family was named.", "Name one or more.")
    fits.sort(key=_criterion)
    least = _criterion(fits[0])
    differences = {f.family: _criterion(f) - least for f in fits}
    return Comparison(
        fits=tuple(fits),
        refused=refused,
        differences=differences,
        alike=tuple(f for f, d in differences.items() if d <= ALIKE),
        unlikely=tuple(f for f, d in differences.items() if d > POOR),
        sentence=_sentence(fits, differences, spells),
    )
