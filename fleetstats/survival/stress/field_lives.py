"""Lives in service beside the parts that ran on the bench."""

from __future__ import annotations

from dataclasses import dataclass

from fleetstats.core.gate import an
from fleetstats.spells import Spells


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldLives:
    """Field lives at service stress; `per_h` turns their hours into the bench's life.

    Parameters
    ----------
    spells : Spells
        Lives in service.
    stress : float
        Stress in service, on the bench's scale; positive.
    per_h : float
        Units of the bench's life, such as cycles, that one hour of service makes; positive.

    Examples
    --------
    >>> import fleetstats as fs
    >>> field = fs.FieldLives(
    ...     spells=fs.Spells.of(0, [900, 950, 400], [0, 0, 1]), stress=0.5, per_h=1.0
    ... )
    >>> field.stress, field.spells.n_failed
    (0.5, 1.0)
    """

    spells: Spells
    stress: float
    per_h: float


FIELD = an(FieldLives, "Make it by FieldLives(spells=..., stress=..., per_h=...).")
