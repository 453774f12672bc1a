"""The door to the quoted rule from lives alone: no folder, no records, no study file."""

from __future__ import annotations

from dataclasses import replace

from fleetstats.advice.quoted import Quoter
from fleetstats.advice.risk import chance_at
from fleetstats.bands.choose import QUANTITY
from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.core.arguments import wrong
from fleetstats.core.gate import LEVEL, gate
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings, StudyKeys
from fleetstats.survival.lives import LIVES, SETTINGS
from fleetstats.survival.weibull.fit_weibull import try_fit

QUOTED = ("life", "reliability", "conditional")
"""Kinds of quantity that the rule is of."""


@gate(spells=LIVES, what=QUANTITY, settings=SETTINGS.or_none, level=LEVEL.or_none)
def quote(
    spells: Spells,
    what: Quantity,
    *,
    settings: Settings | None = None,
    level: float | None = None,
) -> Interval:
    """Return what may be quoted of a life, a reliability or a chance ahead, as every chapter does.

    Parameters
    ----------
    spells : Spells
        Lives at risk.
    what : Quantity
        `Quantity.life`, `Quantity.reliability` or `Quantity.conditional`.
    settings : Settings, optional
        Confidence, shapes, prior, method and seed of a study; by default those of a study that
        states none.
    level : float, optional
        Two-sided confidence instead of that of the settings (0.90 where these are not given); each
        edge is one-sided at (1 + level) / 2.

    Returns
    -------
    Interval
        `estimate`, `low`, `high` and `level`. The careful edge, the lower one of a life or a
        reliability and the upper one of a chance ahead, is that of claims and verdicts. None where
        the lives give no edge or no estimate; `note_low` and `note_high` say why.

    Raises
    ------
    ArgumentError
        If an argument is not what it stands for, or the quantity is a rate or a parameter.

    Notes
    -----
    The rule is the head of `advice/quoted.py`, and of a chance ahead `chance_curve` of
    `advice/risk.py`. Failures that a study leaves out of its spells are no part of it, as in the
    first line of a claim; `fs.advise_hours` and `fs.advise_claim` tell what they change.

    References
    ----------
    The rule is ours; as `advise_claim`.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(100, 1600, 50), [k % 5 == 3 for k in range(30)])
    >>> got = fs.quote(lives, fs.Quantity.reliability(500), level=0.90)
    >>> round(got.low, 3), round(got.estimate, 3), round(got.high, 3), got.level
    (0.856, 0.955, 0.989, 0.9)
    >>> fs.quote(lives, fs.Quantity.shape())
    Traceback (most recent call last):
    fleetstats.core.errors.ArgumentError: what = Quantity(kind='shape', p=0, hours=0, width_h=0)...
    """
    if what.kind not in QUOTED:
        right = "Ask for a life, a reliability or a chance ahead; fs.band gives any other quantity."
        raise wrong("what", what, right)
    chosen = Settings(study=StudyKeys(title="")) if settings is None else settings
    if level is not None:
        chosen = replace(chosen, study=replace(chosen.study, confidence=level))
    if what.kind != "conditional":
        return Quoter.of(spells, try_fit(spells), chosen).interval(what)
    chosen = replace(chosen, check=replace(chosen.check, interval_h=what.width_h))
    return chance_at(Quoter.of(spells, try_fit(spells), chosen), what.hours)
