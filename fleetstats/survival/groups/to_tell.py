"""What would let the records tell whether two groups are alike: failures and hours needed."""

from __future__ import annotations

import math
from typing import final

import numpy as np

from fleetstats.core.arguments import wrong
from fleetstats.core.gate import LEVEL, POSITIVE, POSITIVES_ANY, PROBABILITY, gate
from fleetstats.core.value import Value, value
from fleetstats.spells import Spells

POWER = 0.80
"""Chance of telling that the planning figures aim at, if the two groups are truly alike."""


@final
@value
class Needed(Value):
    """What would let the records tell.

    `failures_each` failures in each group, about; `hours_each` hours at the rates seen (the
    larger of the two groups' needs). `least` says that the hours are a lower limit, since no
    failures were seen.
    """

    failures_each: float
    hours_each: float | None
    least: bool
    sentence: str


@gate(shape=POSITIVE, margin=POSITIVES_ANY, level=LEVEL, power=PROBABILITY)
def failures_to_tell(
    shape: float, margin: tuple[float, float], *, level: float = 0.90, power: float = POWER
) -> float:
    """Return failures needed in each of two equal groups to show "inside", if truly alike.

    With ``r`` failures each, the log ratio has standard error ``sqrt(2 / r) / shape``; both
    one-sided tests pass with chance `power` when ``(z_level + z_power) se`` is the nearer edge of
    the margin, ``z_power`` at ``(1 + power) / 2`` (Chow, Shao & Wang 2008, section 3.2, in logs).

    Parameters
    ----------
    shape : float
        Weibull shape of both groups.
    margin : (float, float)
        Ratios of lives between which groups count as alike; below and above 1.
    level : float
        Two-sided confidence of the band that must lie inside.
    power : float
        Chance of showing it.

    Returns
    -------
    float
        Failures in each group, not rounded.

    Raises
    ------
    ArgumentError
        If the margin does not hold 1.

    References
    ----------
    Chow, Shao & Wang (2008), Sample Size Calculations in Clinical Research, section 3.2.

    Examples
    --------
    >>> import fleetstats as fs
    >>> round(fs.failures_to_tell(2.0, (0.8, 1.25)))
    86
    """
    from scipy import special

    if len(margin) != 2 or not margin[0] < 1.0 < margin[1]:
        raise wrong("margin", margin, "Give two ratios, one below 1 and one above it.")
    reach = float(special.ndtri(0.5 + 0.5 * level) + special.ndtri(0.5 + 0.5 * power))
    nearer = min(-math.log(margin[0]), math.log(margin[1]))
    return 2.0 * (reach / (shape * nearer)) ** 2


def say_needed(
    group: Spells,
    against: Spells,
    margin: tuple[float, float],
    level: float,
    shape: float | None,
    shapes: tuple[float, ...],
    public_rate_per_h: float | None,
) -> Needed:
    """Return what would let the records tell whether two groups are alike.

    Parameters
    ----------
    group, against : Spells
        Lives of both.
    margin : (float, float)
        Ratios of lives between which they count as alike.
    level : float
        Two-sided confidence.
    shape : float or None
        Their common shape; None takes the middle of `shapes`.
    shapes : tuple of float
        Assumed shapes.
    public_rate_per_h : float or None
        For the hours needed where no failures were seen.
    """
    b = float(np.median(shapes)) if shape is None else shape
    need = math.ceil(failures_to_tell(b, margin, level=level))
    basis = f"a shape of {b:.2g}" if shape is not None else f"an assumed shape of {b:g}"
    hours: list[float] = []
    least = False
    for part in (group, against):
        if part.n_failed > 0:
            hours.append(need * part.exposure_h / part.n_failed)
        elif public_rate_per_h:
            hours.append(need / public_rate_per_h)
        else:
            # No failures: at the highest rate that these hours allow, still so many hours.
            hours.append(need * part.exposure_h / -math.log(0.5 * (1.0 - level)))
            least = True
    most = max(hours)
    rounded = round(most, 1 - math.floor(math.log10(most)))
    words = (
        f"If the two are truly alike, about {need:,} failures in each would show it with "
        f"{100 * POWER:.0f} % chance (at {basis}), "
    )
    if least:
        words += f"at the highest rate that the hours so far allow at least {rounded:,.0f} h each"
    elif public_rate_per_h and min(group.n_failed, against.n_failed) == 0:
        words += f"at the public rate about {rounded:,.0f} h each"
    else:
        words += f"at the rates seen about {rounded:,.0f} h each"
    return Needed(failures_each=float(need), hours_each=most, least=least, sentence=words + ".")
