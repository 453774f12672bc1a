"""Sensitivity that the main analysis can show: removals on a finding, families, bands.

What unreported failures, lost engines and clocks would change is in a chapter of its own.
"""

from __future__ import annotations

import numpy as np

from fleetstats.advice.results import Results
from fleetstats.chapters.since import SinceRuns, since_blocks
from fleetstats.core.units import text_hours, text_percent
from fleetstats.core.value import Array
from fleetstats.document.blocks import axis_words, hour_marks, say
from fleetstats.document.document import Axis, Block, Figure, Layer, Panel, Section, Table
from fleetstats.document.glossary import explain
from fleetstats.document.table_of import col, table_of
from fleetstats.survival.counting.incidence import OuterBand
from fleetstats.vocabulary.wording import count


def compose_sensitivity(results: Results) -> Section | None:
    """Return how removals on a finding and the choice of family move the answer; None if nothing
    is there to move it.
    """
    blocks: list[Block] = []
    outer = results.description.outer_band
    if outer is not None and outer.n_findings > 0 and len(outer.hours):
        blocks += _outer(results, outer)
    if results.comparison is not None and len(results.comparison.fits) > 1:
        blocks.append(_families(results))
    since = results.chapters.get("since")
    if isinstance(since, SinceRuns):
        blocks += since_blocks(since)
    if not blocks:
        return None
    return Section(key="sensitivity", title="Sensitivity", blocks=tuple(blocks))


def _outer(results: Results, outer: OuterBand) -> list[Block]:
    at = results.settings.study.claimed_interval_h or results.advice.horizon.supported_h
    at = min(at, outer.oldest_h)
    low, high = (float(v) for v in outer.limits_at(at))
    middle = float(outer.at(at))
    n = count(outer.n_findings, "life", "lives")
    text = (
        f"{n.capitalize()} ended by a removal on a finding. At {text_hours(at)}, counting by steps "
        f"alone, reliability is {text_percent(middle)} if they left fairly, {text_percent(low)} "
        f"if each would have failed at once, and {text_percent(high)} if none ever would have."
    )
    wide = high - low > 0.05
    return [
        say(text, "caution" if wide else "fact"),
        explain("outer-band"),
        Figure(
            key="outer-band",
            title="What removals on a finding may hide",
            see="The truth lies between the two outer lines, whatever those removals meant; the "
            "middle line takes them as fair.",
            alt="Three stepped lines of reliability: all removals counted as failures, as fair "
            "censorings, and as no failures.",
            panels=(
                Panel(
                    x=Axis(label=axis_words(results), unit="h", low=0.0),
                    y=Axis(label="Share without the failure in question", unit="probability"),
                    layers=tuple(_steps(outer))
                    + tuple(m for m in hour_marks(results, advice=False) if m.kind == "vline"),
                ),
            ),
            height=3.0,
        ),
    ]


def _steps(outer: OuterBand) -> list[Layer]:
    x = np.concatenate([[0.0], outer.hours, [outer.oldest_h]])

    def y(v: Array) -> Array:
        return np.concatenate([[1.0], v, v[-1:]])

    return [
        Layer(kind="step", role="group-3", label="none would have failed", x=x, y=y(outer.high)),
        Layer(kind="step", role="group-1", label="left fairly", x=x, y=y(outer.reliability)),
        Layer(kind="step", role="group-2", label="all would have failed", x=x, y=y(outer.low)),
    ]


def _families(results: Results) -> Table:
    c = results.comparison
    fits, apart = ((), {}) if c is None else (c.fits, c.differences)
    p = 1.0 - results.settings.targets.reliability
    claim = results.settings.study.claimed_interval_h
    end = results.advice.horizon.supported_h
    return table_of(
        fits,
        key="family-choice",
        title="If another life curve were true",
        columns=(
            col("family", "Life curve", lambda f: f.distribution.title),
            col("aicc_difference", "AICc above the least", lambda f: apart[f.family], "number"),
            col("life_h", f"B{100 * p:.3g} life", lambda f: float(f.quantile(p)), "hours"),
            *(
                ()
                if claim is None
                else (
                    col(
                        "reliability",
                        f"Reliability at {claim:,.0f} h",
                        lambda f: float(f.reliability(claim)),
                        "percent",
                    ),
                )
            ),
        ),
        see="Each is the fit of the greatest likelihood. Curves that the records cannot tell apart "
        f"may still differ beyond {text_hours(end)}.",
    )
