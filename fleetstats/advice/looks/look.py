"""Which look this is, by which rule its error is held, and the level that it may use.

The level at which a verdict is said depends on the plan, on the number of this look and on the
information at it and before, never on what the engines did. So it is worked out once, from the
settings, and is the same for the fleet, for a build, for a source and for what is left when one is
left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from fleetstats.advice.equivalents import life_equivalents
from fleetstats.bands.looks.crossing import chance_ever
from fleetstats.bands.looks.spending import allot, spread_evenly
from fleetstats.core.value import Floats, Value, value
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings

RULES = {
    "single": "each look holds the error by itself",
    "spending": "the error is shared out over the looks planned",
    "any-number": "the error holds at every look, however many",
    "past-plan": "all looks planned are used up; edges that hold at every look take their place",
}
"""How the error is held, and what that means."""

LEAST_LEVEL = 1e-6
"""Level below which none is quoted; no band is known to be true so far out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierLook:
    """A look made before, as a history of the study tells it.

    Parameters
    ----------
    number : int
        Of the look, from 1.
    information : float
        Failures expected then, as `information_of` works them out.
    """

    number: int
    information: float


@value
class ThisLook(Value):
    """One look at records that grow, with the level that it may use.

    Parameters
    ----------
    number : int
        Looks made, this one counted.
    planned : int or None
        Looks planned in all; None without a plan.
    every : str
        Time from one planned look to the next.
    rule : str
        A key of `RULES`.
    alpha : float
        One-sided chance of a wrong word that the study states.
    level : float
        One-sided level at which this look says its word.
    information, share, spent, levels : (k,) float
        Of each look so far: failures expected, as far as known; the information over that guessed
        for the last look; the chance used up by then; the level. The last three are empty but under
        the spending rule.
    known : bool
        Whether the information is that of the records; else it is taken to grow as with `GROWTH`.
    wrong_ever : float
        Without a plan: about the chance that a claim at its limit was called supported at one of
        these looks; less where early looks have too few failures to say anything. Else the level.
    """

    number: int
    planned: int | None
    every: str
    rule: str
    alpha: float
    level: float
    information: Floats
    share: Floats
    spent: Floats
    levels: Floats
    known: bool
    wrong_ever: float

    @property
    def held(self) -> bool:
        """Return whether the stated chance holds over all looks together."""
        return self.rule in ("spending", "any-number") or self.number == 1

    @property
    def at_most(self) -> float:
        """Return the chance that one of the looks so far is wrong by one of the words, at most."""
        if self.rule == "past-plan":
            return 2.0 * self.alpha
        return self.alpha if self.held else self.wrong_ever


def information_of(spells: Spells, settings: Settings, *, hours: float, target: float) -> float:
    """Return the failures expected so far if the claim were exactly at its limit.

    Parameters
    ----------
    spells : Spells
        The whole fleet at this look.
    settings : Settings
        The median of their shape prior is the shape; a shape read from the failures would let what
        happened decide on how much a look may use.
    hours, target : float
        Claimed hours, and the reliability accepted there.
    """
    shape = settings.evidence.prior_shape_median
    return float(-math.log(target) * life_equivalents(spells, [shape], hours)[0])


def join_looks(settings: Settings, earlier: Iterable[EarlierLook], now: float) -> Settings:
    """Return settings that know the looks made before.

    Parameters
    ----------
    settings : Settings
        Of the study.
    earlier : iterable of EarlierLook
        Looks at other states of the records, in any order; of one number the last given counts.
    now : float
        Information at this look, by `information_of`.

    Notes
    -----
    Information that is less than at the look before, as after rows were struck off, counts as that.
    """
    by_number = {x.number: x.information for x in earlier}
    top = 0.0
    rising = []
    for x in (*(by_number[k] for k in sorted(by_number)), now):
        top = max(top, x)
        rising.append(top)
    looks = replace(settings.looks, made=len(rising), information=tuple(rising))
    return replace(settings, looks=looks)


def look_of(settings: Settings) -> ThisLook:
    """Return which look this is, and the level that it may use."""
    keys = settings.looks
    alpha = 0.5 * (1.0 - settings.study.confidence)
    number = len(keys.information) or keys.made or 1
    return _look(number, keys.planned, keys.every, keys.rule, keys.information, alpha)


def look_to_tell(settings: Settings) -> ThisLook | None:
    """Return which look this is; None for one without a plan, of which there is nothing to say."""
    look = look_of(settings)
    return None if look.rule == "single" and look.number == 1 else look


@lru_cache(maxsize=256)
def _look(
    number: int,
    planned: int | None,
    every: str,
    rule: str,
    information: tuple[float, ...],
    alpha: float,
) -> ThisLook:
    if rule == "spending":
        rule = "single" if planned is None else "spending" if number <= planned else "past-plan"
    known = bool(information)
    if not known:
        information = spread_evenly(number, planned if rule == "spending" and planned else number)
    share = spent = levels = np.empty(0)
    level = alpha
    if rule == "spending" and planned != 1:
        assert planned is not None
        given = allot(information, planned, alpha=alpha)
        share, spent = given.share, given.spent
        levels = np.array([round_down(float(x)) for x in given.level])
        level = float(levels[-1])
    return ThisLook(
        number=number, planned=planned, every=every, rule=rule, alpha=alpha, level=level,
        information=np.array(information), share=share, spent=spent, levels=levels, known=known,
        wrong_ever=_wrong_ever(number, information if known else (), alpha)
        if rule == "single"
        else level,
    )  # fmt: skip


def _wrong_ever(number: int, information: tuple[float, ...], alpha: float) -> float:
    """Return the chance of one wrong word at looks taken each by itself.

    Where the information is not known, looks are taken as evenly spaced in it.
    """
    from scipy.special import ndtri

    if number == 1:
        return alpha
    at = information or tuple(range(1, number + 1))
    return chance_ever(at, [-float(ndtri(alpha))] * number)


def round_down(level: float) -> float:
    """Return a level to two digits, no greater, so that what is printed is what was used.

    >>> round_down(0.040115), round_down(0.00053999), round_down(0.05)
    (0.04, 0.00053, 0.05)
    """
    x = max(level, LEAST_LEVEL)
    step = 10.0 ** (math.floor(math.log10(x)) - 1)
    return float(f"{math.floor(x / step + 1e-9) * step:.2g}")
