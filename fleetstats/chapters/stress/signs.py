"""Cautions that a made-up fleet would raise, by the rules that raise them in a study.

A made-up fleet has lives and no rows, so that only cautions read from lives are asked about.
"""

from __future__ import annotations

from collections.abc import Callable

from fleetstats.chapters.between_sources import are_apart
from fleetstats.chapters.curve_fit import caution_curve
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit

Sign = Callable[[Spells, Fit | None, Settings], bool]


def no_curve(spells: Spells, fit: Fit | None, settings: Settings) -> bool:
    """Return whether the failures do not follow the fitted curve."""
    del spells
    return bool(caution_curve(fit, settings))


def mixed_sources(spells: Spells, fit: Fit | None, settings: Settings) -> bool:
    """Return whether sources are told to differ by more than the margin."""
    del fit
    return are_apart(spells, "source", settings)


def mixed_builds(spells: Spells, fit: Fit | None, settings: Settings) -> bool:
    """Return whether builds are told to differ by more than the margin."""
    del fit
    return are_apart(spells, "build", settings)


SIGNS: tuple[tuple[str, Sign], ...] = (
    ("curve-does-not-fit", no_curve),
    ("mixed-sources", mixed_sources),
    ("mixed-builds, outside the margin", mixed_builds),
)
"""Each with the code of its caution. That builds are not shown alike is cautioned too, in nearly
every fleet of that size: only builds told apart are counted."""
