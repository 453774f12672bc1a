"""How a study asks the bands of a fleet: by its method, level, prior and seed, at its shapes."""

from __future__ import annotations

from fleetstats.bands.choose import Asked
from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.limits import FEW_FOR_SHAPE


def prepare(
    spells: Spells, fit: Fit | None, settings: Settings, *, method: str | None = None
) -> Asked:
    """Return the bands of a fleet by the study's method, level, prior and seed."""
    return Asked.of(
        spells,
        fit,
        level=settings.study.confidence,
        method=settings.evidence.method if method is None else method,
        settings=settings.evidence,
        seed=settings.study.seed,
    )


def ask_band(
    spells: Spells,
    fit: Fit | None,
    what: Quantity,
    settings: Settings,
    *,
    method: str | None = None,
) -> Interval:
    """Return one quantity's interval by the study's method, level, prior and seed."""
    return prepare(spells, fit, settings, method=method).interval(what)


def is_few(spells: Spells, fit: Fit | None) -> bool:
    """Return whether the shape range must stand in for a fitted shape."""
    return fit is None or spells.n_failed < FEW_FOR_SHAPE


def shapes_in_use(spells: Spells, fit: Fit | None, settings: Settings) -> tuple[float, ...]:
    """Return the shapes over which known-shape answers are shown, rising.

    The study's range while failures are few; else the shape's estimate and the edges of its band,
    since a shape that the data contradict is no fair assumption.
    """
    stated = tuple(sorted(settings.evidence.shapes))
    if fit is None or is_few(spells, fit):
        return stated
    band_of = ask_band(spells, fit, Quantity.shape(), settings)
    low = min(stated[0], fit.shape) if band_of.low is None else band_of.low
    high = max(stated[-1], fit.shape) if band_of.high is None else band_of.high
    return tuple(sorted({float(f"{b:.3g}") for b in (low, fit.shape, high)}))
