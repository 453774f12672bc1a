"""Analysis: method and why, the fit with its band, other families, other routes."""

from __future__ import annotations

from collections.abc import Sequence

from fleetstats.advice.results import Results
from fleetstats.bands.interval import Interval
from fleetstats.chapters.analysis.figures import (
    hazard_figure,
    probability_figure,
    survival_figure,
)
from fleetstats.core.units import text_hours
from fleetstats.document.blocks import interval_row, say
from fleetstats.document.cells import format_cell
from fleetstats.document.document import Block, Section, Table
from fleetstats.document.glossary import explain
from fleetstats.document.table_of import col, table_of
from fleetstats.document.words import say_agreement, say_confidence, say_range, say_value
from fleetstats.survival.fit import Fit
from fleetstats.survival.second_opinion import Opinion

CLOSE = 1e-3

METHODS = {
    "profile": "profile likelihood",
    "calibrated-profile": "profile likelihood, calibrated by simulation",
    "shape-mixture": "mixture over shapes under a stated prior",
    "weights-percentile": "weighted resampling, percentile edges",
    "weights-bca": "weighted resampling, bias-corrected edges",
    "parametric": "parametric resampling",
    "posterior": "Bayesian posterior under stated priors",
    "wald": "normal approximation",
    "open-shapes": "worst over the shapes that the records leave open",
    "near-claim": "count of engines at risk on the way, where the curve alone is kinder",
    "shape-free": "count of engines, no shape assumed",
}


def method_words(name: str) -> str:
    """Return the name of a method of bands for a reader."""
    return METHODS.get(name, name.replace("-", " "))


def compose_analysis(results: Results) -> Section:
    """Return method, figures, numbers and second opinions."""
    su = results.sureness
    blocks: list[Block] = [say(f"Bands are by {method_words(su.choice.method)}. {su.choice.why}")]
    if su.choice.measured_coverage is not None:
        blocks.append(
            say(
                "On simulated fleets most like this one its one-sided bounds held, if lives are "
                f"Weibull, {_held(su.choice.measured_coverage)}, where {50 * (1 + su.level):g} % "
                "is promised."
            )
        )
    blocks.append(explain("shape-mixture" if su.choice.method == "shape-mixture" else "profile"))
    blocks += [explain("likelihood"), survival_figure(results), explain("reliability")]
    blocks.append(explain("product-limit"))
    if results.fit is None:
        blocks.append(
            say(
                f"No curve is fitted. {results.no_fit or 'The records give none.'}",
                "missing",
            )
        )
    probability = probability_figure(results)
    if probability is not None:
        blocks += [explain("weibull"), explain("probability-plot"), probability]
    blocks += [explain("hazard"), hazard_figure(results), _numbers(results)]
    blocks += [explain("shape"), explain("scale"), explain("b-life")]
    if results.comparison is not None:
        blocks += [say(results.comparison.sentence), explain("aicc"), _families(results)]
    if results.opinions:
        blocks += _routes(results)
    return Section(key="analysis", title="Analysis", blocks=tuple(blocks))


def _held(share: float) -> str:
    """Return a measured coverage with one decimal, and without it where it says nothing."""
    text = f"{100 * share:.1f}".removesuffix(".0")
    return "in every one of them" if text == "100" else f"{text} % of the time"


def _numbers(results: Results) -> Table:
    su = results.sureness
    reach = results.advice.horizon.supported_h
    asked = [_advised(i, results) for i in (su.shape, su.scale, *su.lives) if i is not None]
    rows = [interval_row(i, supported_to_h=reach) for i in asked]
    v = results.advice.verdict
    if v is not None:
        name, estimate, edges, method = interval_row(v.reliability, 1 - v.accepted_failure)
        rows.append((name + (" (extrapolated)" if v.extrapolated else ""), estimate, edges, method))
    side = say_confidence(su.level)
    used = {method for *_, method in rows}
    see = "An edge that the records do not give is said to be missing."
    return table_of(
        rows,
        key="estimates",
        title="Estimates with their bands",
        columns=(
            col("quantity", "Quantity", lambda x: x[0]),
            col("estimate", "Best estimate", lambda x: x[1]),
            col("band", f"Band, each edge {side}", lambda x: x[2]),
            *((col("method", "Method", lambda x: method_words(x[3])),) if len(used) > 1 else ()),
        ),
        see=f"{see} All bands: {method_words(used.pop())}." if len(used) == 1 else see,
    )


def _advised(interval: Interval, results: Results) -> Interval:
    """Return the interval that the advice rests on where it is of the same life: one number."""
    life = results.advice.reliability.life
    return life if life is not None and life.name == interval.name else interval


def say_beside_advice(results: Results) -> str:
    """Say how the band of the target's life differs from the edge that the advice takes."""
    life = results.advice.reliability.life
    own = [i for i in results.sureness.lives if life is not None and i.name == life.name]
    if life is None or not own or text_hours(own[0].low) == text_hours(life.low):
        return ""
    alone = f"{method_words(own[0].method)} alone gives {text_hours(own[0].low)}"
    return (
        f" The advice takes {text_hours(life.low)} as lower edge of the {life.name} "
        f"({life.note_low or method_words(life.method)}); {alone}."
    )


def _by_likelihood(results: Results) -> str:
    """Say which fit a table shows where the estimates above are no fits of greatest likelihood."""
    fit, shape = results.fit, results.sureness.shape
    if fit is None or shape is None or shape.estimate is None:
        return ""
    if say_value(shape.estimate, "") == say_value(fit.shape, ""):
        return ""
    return (
        " These are the fits of the greatest likelihood; the best estimates above are the middle "
        f"of the {method_words(shape.method)}."
    )


def _families(results: Results) -> Table:
    c = results.comparison
    fits, refused, apart = ((), {}, {}) if c is None else (c.fits, c.refused, c.differences)
    rows: list[tuple[str, float | None, str, float | None, str]] = [
        (f.distribution.title, apart[f.family], _parameters(f), float(f.quantile(0.10)), "")
        for f in fits
    ]
    rows += [(k, None, "", None, why) for k, why in sorted(refused.items())]
    return table_of(
        rows,
        key="families",
        title="Other life curves beside the Weibull",
        columns=(
            col("family", "Family", lambda x: x[0]),
            col("aicc_difference", "AICc above the least", lambda x: x[1], "number"),
            col("parameters", "Parameters", lambda x: x[2]),
            col("b10_h", "B10 life", lambda x: x[3], "hours"),
            *((col("refused", "Why not", lambda x: x[4]),) if refused or c is None else ()),
        ),
        see="Families within 2 of the least explain the records about equally well."
        + _by_likelihood(results)
        + _beyond([r[3] for r in rows], results),
    )


def _parameters(f: Fit) -> str:
    return ", ".join(
        f"{n.removesuffix('_h').replace('_', ' ')} {format_cell(v, 'number')}"
        for n, v in zip(f.names, f.estimate.tolist(), strict=True)
    )


def _beyond(lives: Sequence[str | float | int | None], results: Results) -> str:
    """Return a sentence on lives beyond the evidence, for a column of plain numbers."""
    reach = results.advice.horizon.supported_h
    if not any(isinstance(x, float) and x > reach for x in lives):
        return ""
    return f" Lives beyond {text_hours(reach)}, where the evidence ends, are extrapolation."


def _settled(difference: float | None) -> float | None:
    """Return a difference of log likelihoods without the noise of rounding."""
    return None if difference is None else round(difference, 6) + 0.0


def _routes(results: Results) -> list[Block]:
    """Return the table of three routes: ours and the libraries', with a line on agreement."""
    fit = results.fit
    if fit is None:
        return []
    apart = [float(max(abs(o.relative_difference))) for o in results.opinions if o.answered]
    rows = [_own_route(fit), *(_route(o, fit) for o in results.opinions)]
    return [
        table_of(
            rows,
            key="routes",
            title="The same fit by other routes",
            columns=(
                col("route", "Route", lambda r: r[0]),
                col("shape", "Shape", lambda r: r[1], "number"),
                col("scale_h", "Scale", lambda r: r[2], "hours"),
                col("b10_h", "B10 life", lambda r: r[3], "hours"),
                col("log_likelihood", "Log likelihood above ours", lambda r: r[4], "number"),
                col("largest_difference", "Largest difference", lambda r: r[5], "percent"),
                col("note", "Note", lambda r: r[6]),
            ),
            see=say_agreement(apart, tolerance=CLOSE)
            + _by_likelihood(results)
            + _beyond([r[3] for r in rows], results),
        ),
        explain("second-opinion"),
        *_bands_compared(results),
    ]


Route = tuple[str, float | None, float | None, float | None, float | None, float | None, str]


def _own_route(fit: Fit) -> Route:
    b10 = float(fit.quantile(0.10))
    return ("this program", fit.shape, float(fit.scale_h), b10, 0.0, None, "maximum likelihood")


def _route(o: Opinion, fit: Fit) -> Route:
    note = " ".join(o.notes)
    if not o.answered:
        return (o.library, None, None, None, None, None, note or "no answer")
    by = dict(zip(o.names, o.estimate.tolist(), strict=True))
    b10 = o.b10_relative_difference
    return (
        o.library,
        by.get("shape"),
        by.get("scale_h"),
        None if b10 is None else float(fit.quantile(0.10)) * (1.0 + b10),
        _settled(o.log_likelihood_difference),
        float(max(abs(o.relative_difference))),
        note,
    )


def _bands_compared(results: Results) -> list[Block]:
    """Return the bands in use beside the normal approximation, where there is one."""
    su, reach = results.sureness, results.advice.horizon.supported_h
    normal = {i.name: say_range(i, supported_to_h=reach) for i in su.normal_approximation}
    asked = (su.shape, su.scale, *su.lives)
    ours = [i for i in asked if i is not None and i.name in normal]
    if not ours:
        return []
    table = table_of(
        ours,
        key="bands-compared",
        title="The band in use beside the normal approximation",
        columns=(
            col("quantity", "Quantity", lambda i: i.name),
            col("in_use", "Band in use", lambda i: say_range(i, supported_to_h=reach)),
            col("normal", "Normal approximation", lambda i: normal[i.name]),
        ),
        see="Where the two differ much, the records are too few for the quick band."
        + say_beside_advice(results),
        folded=True,
    )
    return [table, explain("normal-approximation")]
