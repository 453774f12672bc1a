"""Figures of the analysis: survival with band, probability plot, hazard with band."""

from __future__ import annotations

import numpy as np

from fleetstats.advice.results import Results
from fleetstats.core.value import Array
from fleetstats.document.blocks import axis_words, band_layers, hour_marks
from fleetstats.document.document import Axis, Figure, Layer, Panel

PLOT_FROM_H = 1.0

POINTS_DRAWN = 500
"""Steps or points of a curve drawn; more would not be seen apart. The results hold all."""


def thin(x: Array, most: int = POINTS_DRAWN) -> Array:
    """Return the places of at most `most` values, spread evenly over their range.

    Parameters
    ----------
    x : (n,) float
        Rising.
    most : int
        More than that are thinned.
    """
    if len(x) <= most:
        return np.arange(len(x))
    at = np.searchsorted(x, np.linspace(x[0], x[-1], most), side="right") - 1
    return np.unique(np.concatenate([[0], at, [len(x) - 1]]))


def _band_label(results: Results) -> str:
    return f"{100 * results.sureness.level:g} % band"


def survival_figure(results: Results) -> Figure:
    """Return reliability over hours with its band, the product-limit steps and the marks."""
    b = results.sureness.reliability
    curve = results.description.product_limit
    last = float(b.hours[-1])
    layers = band_layers(b, label=_band_label(results))
    if len(curve.hours):
        kept = thin(curve.hours)
        x = np.concatenate([[curve.start_h], curve.hours[kept], [curve.oldest_h]])
        y = np.concatenate([[1.0], curve.reliability[kept], curve.reliability[-1:]])
        layers.append(Layer(kind="step", role="reference", label="product-limit", x=x, y=y))
    target = results.settings.targets.reliability
    layers.append(
        Layer(kind="hline", role="target", label=f"target {100 * target:g} %", y=np.array([target]))
    )
    end = results.advice.horizon.supported_h
    lows = b.low[np.isfinite(b.low) & (b.hours <= max(end, b.hours[0]))]
    floor = float(min(lows.min(), target)) if len(lows) else 0.0
    low = max(0.0, np.floor(20 * (floor - 0.6 * (1 - floor)) - 1e-9) / 20)
    return Figure(
        key="survival",
        title="Share of engines that reach each age without the failure",
        see="The curve is the best estimate, the shaded band what the records do not rule out. "
        "Hatched parts lie beyond the evidence."
        if np.isfinite(b.estimate).any()
        else "No curve is drawn, since so few failures give no estimate: the truth may lie "
        "anywhere in the shaded band. Hatched parts lie beyond the evidence.",
        alt=f"Reliability falling with hours from 100 %; the band widens past "
        f"{end:,.0f} hours, where the evidence ends.",
        panels=(
            Panel(
                x=Axis(label=axis_words(results), unit="h", low=0.0, high=last),
                y=Axis(
                    label="Share without the failure in question",
                    unit="probability",
                    low=low,
                    high=1.0 + 0.02 * (1.0 - low),
                ),
                layers=(*layers, *hour_marks(results, last_h=last)),
            ),
        ),
    )


RISES = {
    "wear-out": "The curve rises, and a level one does not fit the records: wear-out.",
    "no-wear-out": "The curve falls: early faults, and no wear-out.",
}


def say_rise(state: str, *, drawn: bool) -> str:
    """Return what to see in the failure rate over age, by what the records show of wear-out.

    Parameters
    ----------
    state : str
        State of `WearOut`.
    drawn : bool
        Whether there is a best estimate to draw.
    """
    if not drawn:
        return (
            "No curve is drawn. The band opens where fewer engines were watched, which is no sign "
            "of wear-out. Points are plain counts with exact limits."
        )
    rise = RISES.get(state, "Whether the rate rises with age is not shown: a level one fits too.")
    return f"{rise} Points are plain counts with exact limits; they should scatter about the curve."


def hazard_figure(results: Results) -> Figure:
    """Return the failure rate with its band, and the rate counted in each band of age."""
    b = results.sureness.hazard
    e = results.description.exposure
    layers = band_layers(b, label=_band_label(results), factor=1000.0)
    seen = e.exposure_h > 0
    middle = 0.5 * (e.low_h + e.high_h)
    layers.append(
        Layer(
            kind="points",
            role="reference",
            label="counted in each band of age",
            x=middle[seen],
            y=1000 * e.rate_per_h[seen],
            low=1000 * e.rate_low_per_h[seen],
            high=1000 * e.rate_high_per_h[seen],
        )
    )
    last = float(b.hours[-1])
    # The scale is that of the ages seen; beyond them a band or a single count may leave the frame.
    end = max(results.advice.horizon.supported_h, float(b.hours[0]))
    inside = b.hours <= end
    tall = [
        np.nan_to_num(1000 * b.high[inside]),
        1.4 * np.nan_to_num(1000 * b.estimate),
        1000 * e.rate_per_h[seen & (e.high_h <= end)],
    ]
    top = 1.25 * max((float(v.max()) for v in tall if len(v)), default=1.0)
    return Figure(
        key="hazard",
        title="Failure rate of engines that have reached an age",
        see=say_rise(results.advice.wear_out.state, drawn=bool(np.isfinite(b.estimate).any())),
        alt="Failure rate per 1,000 hours over age with its band, and counted rates with limits.",
        panels=(
            Panel(
                x=Axis(label=axis_words(results), unit="h", low=0.0, high=last),
                y=Axis(label="Failures per 1,000 engine hours", low=0.0, high=top or None),
                layers=(*layers, *hour_marks(results, advice=False, last_h=last)),
            ),
        ),
    )


def probability_figure(results: Results) -> Figure | None:
    """Return the probability plot; None without a fit or failures to plot."""
    points, fit = results.description.points, results.fit
    if points is None or fit is None or not len(points.hours):
        return None
    shown = points.beside(fit)
    kept = thin(np.log(shown.hours))
    b = results.sureness.reliability
    start = max(PLOT_FROM_H, 0.5 * float(shown.hours.min()))
    keep = b.hours >= start
    hours = b.hours[keep]
    layers = [
        Layer(
            kind="ribbon",
            role="band",
            label=_band_label(results),
            x=hours,
            low=1.0 - np.where(np.isnan(b.high[keep]), 1.0, b.high[keep]),
            high=1.0 - np.where(np.isnan(b.low[keep]), 0.0, b.low[keep]),
            extrapolated_from=b.supported_to_h,
        ),
        Layer(
            kind="line",
            role="estimate",
            label=f"Weibull, shape {fit.shape:.2g}",
            x=hours,
            y=1.0 - fit.reliability(hours),
            extrapolated_from=b.supported_to_h,
        ),
        Layer(
            kind="points",
            role="failure",
            label="failures" if len(kept) == len(shown.hours) else "failures, some of them",
            x=shown.hours[kept],
            y=shown.failure_probability[kept],
        ),
    ]
    marks = [m for m in hour_marks(results, advice=False, last_h=float(hours[-1]))
             if m.kind == "vline"]  # fmt: skip
    return Figure(
        key="probability",
        title="Do the failures lie on a straight line?",
        see="Points near the line: the Weibull describes these failures. Points are corrected for "
        f"engines still running and for late entry ({shown.note}).",
        alt=f"Probability plot of {len(shown.hours)} failure ages beside the fitted straight line.",
        panels=(
            Panel(
                x=Axis(label=axis_words(results), unit="h", scale="log"),
                y=Axis(label="Chance of having failed", scale="probability", unit="probability"),
                layers=(*layers, *marks),
            ),
        ),
    )


def _risk_words(results: Results) -> str:
    if results.settings.targets.risk_per_check is None:
        return "No accepted chance is stated; the reader has to bring one."
    if results.advice.n_mended is not None:
        return (
            "The curves count every failure in question; the advice on overhaul counts those that "
            "an overhaul mends, so it begins where curves of these alone cross the accepted line."
        )
    return (
        "Where a curve crosses the accepted line, that edge of the advice begins: the upper edge "
        "of the band first."
    )


def risk_figure(results: Results) -> Figure:
    """Return the chance of failing before the next check, by age."""
    b = results.sureness.conditional
    s = results.settings
    layers = band_layers(b, label=_band_label(results))
    target = s.targets.risk_per_check
    if target is not None:
        layers.append(
            Layer(
                kind="hline",
                role="target",
                label=f"accepted {100 * target:.3g} %",
                y=np.array([target]),
            )
        )
    last = float(b.hours[-1])
    # The scale is that of the ages seen, so that the accepted line is not lost at the bottom.
    end = max(results.advice.horizon.supported_h, float(b.hours[0]))
    inside = b.hours <= end
    edge = np.nan_to_num(np.where(np.isfinite(b.high[inside]), b.high[inside], 0.0))
    top = 1.3 * max(float(edge.max()), 2.5 * (target or 0.0), 1e-6)
    width = s.check.interval_h
    return Figure(
        key="risk",
        title=f"Chance of failing within the next {width:g} h",
        see=_risk_words(results),
        alt=f"Chance of failing within {width:g} hours by age, with band.",
        panels=(
            Panel(
                x=Axis(label=axis_words(results), unit="h", low=0.0, high=last),
                y=Axis(
                    label=f"Chance within the next {width:g} h",
                    unit="probability",
                    low=0.0,
                    high=min(top, 1.0),
                ),
                layers=(*layers, *hour_marks(results, last_h=last)),
            ),
        ),
    )
