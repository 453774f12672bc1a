"""What is said of what goes with longer or shorter life."""

from __future__ import annotations

from fleetstats.core.units import text_decided
from fleetstats.survival.regression.regression import Regression


def effects_sentence(r: Regression) -> str:
    """Say what goes with longer or shorter life, or why nothing can be said."""
    if r.treatment == "refused":
        return r.because
    shown = [f for f in r.factors if f.reading != "not shown"]
    held = "" if r.treatment == "plain" else " (held back towards none by a stated prior)"
    if not shown:
        n = len(r.factors)
        which = (
            f"For {r.factors[0].name} no longer or shorter life is shown"
            if n == 1
            else f"None of the {n} covariates is shown to go with a longer or shorter life"
        )
        bands = "the band of the life factor holds" if n == 1 else "each band holds"
        return f"{which}{held}; {bands} 1. That is no proof of no effect."
    parts = []
    for f in shown:
        low = "no limit" if f.low is None else text_decided(f.low, 1.0, unit="")
        high = "no limit" if f.high is None else text_decided(f.high, 1.0, unit="")
        per = "" if ": " in f.name else f" per {f.step:g}"
        parts.append(
            f"{f.name}{per}: life times {text_decided(f.factor, 1.0, unit='')} ({low} to {high})"
        )
    return f"Shown to go with another life{held}: {'; '.join(parts)}."
