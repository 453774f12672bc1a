"""Assumptions: each with what if it is wrong; then every setting, chosen or default."""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.document.blocks import METERS, say
from fleetstats.document.caption_words import say_other_curves
from fleetstats.document.document import Block, Section, Table
from fleetstats.document.references import point
from fleetstats.document.table_of import col, table_of
from fleetstats.vocabulary.limits import FEW_FOR_TWO
from fleetstats.vocabulary.wording import stated


def compose_assumptions(results: Results) -> Section:
    """Return the assumptions of the analysis and the table of settings."""
    blocks: list[Block] = [
        table_of(
            _rows(results),
            key="assumptions",
            title="What is assumed, and what if it is wrong",
            columns=(
                col("assumption", "Assumed", lambda x: x[0]),
                col("if_wrong", "If it is wrong", lambda x: x[1]),
                col("look", "Where it is looked at", lambda x: x[2]),
            ),
        ),
        say(
            f"{sum(a.chosen for a in results.assumptions)} of {len(results.assumptions)} settings "
            "are the study's own; the rest stand at their documented defaults."
        ),
        _settings(results),
    ]
    return Section(key="assumptions", title="Assumptions", blocks=tuple(blocks))


NOT_HERE = "Not looked at in this report"


def _other_curves(results: Results) -> str:
    """Return how far other curves that fit about as well move the life in question."""
    c = results.comparison
    p = 1.0 - results.settings.targets.reliability
    alike = [] if c is None else [f for f in c.fits if c.differences[f.family] <= 2.0]
    lives = [float(f.quantile(p)) for f in alike]
    return say_other_curves(lives, f"B{100 * p:.3g} life", results.advice.horizon.supported_h)


def _rows(results: Results) -> list[tuple[str, str, str]]:
    s = results.settings
    meter = METERS[s.hours.meter]
    out = [
        (
            "Failures were reported as they happened.",
            "Each unreported failure makes engines look better than they are.",
            point("hidden", otherwise=NOT_HERE),
        ),
        (
            "Engines that left without the failure were like those that stayed.",
            "If they left because they were ailing, reliability is overstated.",
            point("outer-band", "hidden", otherwise=NOT_HERE),
        ),
        (
            "Engines that joined late are like those followed from new.",
            "If owners join because of trouble, or because an engine is good, the curve is of "
            "joiners only.",
            point("entry", "exposure", otherwise=NOT_HERE),
        ),
        (
            "One curve describes all engines in the question.",
            "Mixed builds or shops bend the curve; the pooled answer is then nobody's.",
            point("pooling", "builds", otherwise=NOT_HERE),
        ),
        (
            "Engines fail independently.",
            "A bad lot or shop fails together; bands are then too narrow.",
            point("influence", otherwise=NOT_HERE),
        ),
        (
            f"Hours are {meter}, correctly read.",
            "An error of 10 % in hours is an error of 10 % in every age.",
            point("clocks", "clock-range", otherwise="No hours were converted"),
        ),
        (
            "Calendar age does not matter beside hours.",
            "Engines that fly little corrode; hours then rank them wrongly.",
            point("calendar", otherwise="Not answered by hours alone"),
        ),
    ]
    return [*out, *_of_the_fit(results)]


def _of_the_fit(results: Results) -> list[tuple[str, str, str]]:
    """Return what is assumed of the curve, of its shape where failures are few, and the target."""
    s = results.settings
    out = []
    if results.fit is not None:
        out.append(
            (
                "Life follows a Weibull curve within the ages seen.",
                _other_curves(results),
                point("families", "probability", otherwise=NOT_HERE),
            )
        )
    if results.spells.n_failed < FEW_FOR_TWO or results.fit is None:
        e = s.evidence
        out.append(
            (
                f"The shape lies about {e.prior_shape_median:g} ({e.prior_source}).",
                "A truth far from it moves the bound; beyond the ages seen it moves it much.",
                point("over-shapes", "claim-by-shape", otherwise=NOT_HERE),
            )
        )
    out.append(
        (
            f"{stated(s.targets.reliability)} of engines should reach overhaul: the study's own "
            "figure.",
            "A stricter figure moves the advice to earlier hours. No authority sets one.",
            point("decision", otherwise=NOT_HERE),
        )
    )
    return out


def _settings(results: Results) -> Table:
    return table_of(
        results.assumptions,
        key="settings",
        title="Every setting, with its default",
        columns=(
            col("key", "Setting", lambda a: a.key),
            col("value", "Value", lambda a: a.text),
            col("unit", "Unit", lambda a: a.unit),
            col("from", "From", lambda a: "study" if a.chosen else "default"),
            col("default", "Default", lambda a: a.default_text),
            col("doc", "Meaning", lambda a: a.doc),
        ),
        folded=True,
    )
