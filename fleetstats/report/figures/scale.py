"""Axes: from values to places on paper, with their limits and tick marks.

All axes are drawn linear; the values are transformed first. So ticks, extrapolated parts and the
readings under a pointer follow one rule for every scale.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import ReportError
from fleetstats.core.value import Array, Value, value
from fleetstats.document.document import Axis, Panel
from fleetstats.vocabulary.capitals import capital

SCALES = ("linear", "log", "probability", "category")
PROBABILITY_TICKS = (
    1e-5, 2e-5, 5e-5, 1e-4, 2e-4, 5e-4, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05,
    0.1, 0.2, 0.3, 0.5, 0.7, 0.9, 0.99, 0.999,
)  # fmt: skip


@value
class Scale(Value):
    """An axis made ready: limits in drawn places, ticks with their texts."""

    axis: Axis
    low: float
    high: float
    ticks: tuple[float, ...]
    texts: tuple[str, ...]
    minor: tuple[float, ...] = ()

    def place(self, values: ArrayLike | None) -> Array:
        """Return drawn places of `values`; NaN where the scale has no place for them."""
        if values is None:
            raise ReportError("Figure: a layer lacks an array that its kind needs.")
        return place_values(values, self.axis.scale)


def place_values(values: ArrayLike, scale: str) -> Array:
    """Transform values to places: log10, or log(-log(1 - p)) for the probability scale.

    On the probability scale a Weibull distribution over log hours is a straight line.
    """
    if scale not in SCALES:
        raise ReportError(f"Figure: unknown scale '{scale}'.", f"Use one of {', '.join(SCALES)}.")
    v = np.asarray(values, dtype=np.float64)
    if scale == "log":
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(v > 0, np.log10(v), np.nan)
    if scale == "probability":
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where((v > 0) & (v < 1), np.log(-np.log1p(-v)), np.nan)
    return v


def make_scales(
    panel: Panel, *, width_pt: float = 400.0, height_pt: float = 200.0
) -> tuple[Scale, Scale]:
    """Return the scales of both axes of a panel, limits taken from its layers where not set.

    `width_pt` and `height_pt` are about the size of the drawn panel; they set how many ticks fit.
    """
    core_x: list[Array] = []
    core_y: list[Array] = []
    soft_y: list[Array] = []
    for layer in panel.layers:
        for name in ("x", "x2"):
            v = getattr(layer, name)
            if v is not None and layer.kind != "hline":
                core_x.append(place_values(v, panel.x.scale))
        target = soft_y if layer.kind == "ribbon" else core_y
        for name in ("y", "low", "high"):
            v = getattr(layer, name)
            if v is not None and layer.kind not in ("vline", "zone"):
                keep = soft_y if name != "y" and layer.kind == "points" else target
                keep.append(place_values(v, panel.y.scale))
        if layer.kind == "bars" and panel.y.scale == "linear":
            core_y.append(np.zeros(1))
        if layer.kind == "spans" and len(core_y) and len(core_y[-1]):
            core_y.append(np.array([np.nanmin(core_y[-1]) - 1.0, np.nanmax(core_y[-1]) + 1.0]))
    snug = not any(p.kind in ("points", "spans") for p in panel.layers)
    return (
        _scale(panel.x, core_x, [], n_ticks=width_pt / 52.0, snug=snug),
        _scale(panel.y, core_y, soft_y, n_ticks=height_pt / 28.0, vertical=True),
    )


def _range(parts: list[Array]) -> tuple[float, float] | None:
    flat = np.concatenate([p.ravel() for p in parts]) if parts else np.empty(0)
    flat = flat[np.isfinite(flat)]
    return (float(flat.min()), float(flat.max())) if len(flat) else None


def _scale(
    axis: Axis,
    core: list[Array],
    soft: list[Array],
    *,
    n_ticks: float,
    vertical: bool = False,
    snug: bool = False,
) -> Scale:
    if axis.scale == "category":
        n = max(1, len(axis.categories))
        texts = axis.categories
        return Scale(axis=axis, low=-0.6, high=n - 0.4, ticks=tuple(map(float, range(n))),
                     texts=texts)  # fmt: skip
    both = _range(core + soft)
    own = _range(core)
    low, high = both if both is not None else (0.0, 1.0)
    if own is not None and vertical:
        # A band may explode where data end; it may leave the frame, the estimate may not shrink.
        reach = own[1] - own[0]
        reach = 2.0 * max(reach, abs(own[1])) if axis.scale == "linear" else 0.4 * reach
        if reach > 0.0:
            low, high = max(low, own[0] - reach), min(high, own[1] + reach)
    if axis.scale == "linear":
        if 0.0 <= low <= 0.4 * high:
            low = 0.0
        pad = (0.0 if snug else 0.04) * (high - low or abs(high) or 1.0)
        bounded = axis.unit == "probability" and high <= 1.0
        high = min(high + pad, 1.0 + 0.02 * (1.0 - low)) if bounded else high + pad
        low = low - pad if low != 0.0 else low
    else:
        pad = 0.04 * (high - low or 1.0)
        low, high = low - pad, high + pad
    if axis.low is not None:
        low = float(place_values(axis.low, axis.scale))
    if axis.high is not None:
        high = float(place_values(axis.high, axis.scale))
    if not (math.isfinite(low) and math.isfinite(high)) or high <= low:
        low, high = (low - 0.5, low + 0.5) if math.isfinite(low) else (0.0, 1.0)
    ticks, texts, minor = _ticks(axis, low, high, n_ticks)
    return Scale(axis=axis, low=low, high=high, ticks=ticks, texts=texts, minor=minor)


def _ticks(
    axis: Axis, low: float, high: float, n_ticks: float
) -> tuple[tuple[float, ...], tuple[str, ...], tuple[float, ...]]:
    if axis.scale == "probability":
        p = np.array(PROBABILITY_TICKS)
        at = place_values(p, "probability")
        keep = (at >= low) & (at <= high)
        p, at = p[keep], at[keep]
        # Ticks nearer than a line of text would collide.
        gap = (high - low) / max(3.0, 1.8 * n_ticks)
        chosen: list[int] = []
        for i in range(len(at)):
            if not chosen or at[i] - at[chosen[-1]] >= gap:
                chosen.append(i)
        values = [float(p[i]) for i in chosen]
        return tuple(float(at[i]) for i in chosen), tuple(map(text_tick_percent, values)), ()
    if axis.scale == "log":
        return _log_ticks(axis, low, high)
    step = nice_step((high - low) / min(max(n_ticks, 2.0), 8.0))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    values = [i * step for i in range(first, last + 1)]
    return tuple(values), tuple(_text(axis, v, step) for v in values), ()


def _log_ticks(
    axis: Axis, low: float, high: float
) -> tuple[tuple[float, ...], tuple[str, ...], tuple[float, ...]]:
    if high - low < 0.7:  # less than a factor of five: round steps tell more than powers
        a, b = 10.0**low, 10.0**high
        step = nice_step((b - a) / 5, quarters=True)
        values = [i * step for i in range(math.ceil(a / step - 1e-9), math.floor(b / step) + 1)]
        values = [v for v in values if v > 0]
        if len(values) >= 2:
            at = tuple(math.log10(v) for v in values)
            return at, tuple(_text(axis, v, step) for v in values), ()
    decades = range(math.floor(low) - 1, math.ceil(high) + 1)
    every = [(math.log10(m) + d, m * 10.0**d, m) for d in decades for m in range(1, 10)]
    inside = [e for e in every if low <= e[0] <= high]
    wanted: tuple[int, ...] = (1,)
    if high - low < 3.2:
        wanted = (1, 2, 5)
    if high - low < 1.2:
        wanted = (1, 2, 3, 5, 7)
    major = [e for e in inside if e[2] in wanted]
    if len(major) < 2:
        major = inside
    chosen = {e[0] for e in major}
    minor = tuple(e[0] for e in inside if e[0] not in chosen)
    return tuple(e[0] for e in major), tuple(_text(axis, e[1], e[1]) for e in major), minor


def nice_step(rough: float, *, quarters: bool = False) -> float:
    """Return the step of 1, 2, 2.5 or 5 times a power of ten next above `rough`.

    2.5 only where it is whole, unless `quarters` are wanted: ticks at 2.5 and 7.5 carry a digit
    for nothing.
    """
    if not rough > 0 or not math.isfinite(rough):
        return 1.0
    base = 10.0 ** math.floor(math.log10(rough))
    for m in (1.0, 2.0, 2.5, 5.0, 10.0):
        if m == 2.5 and base < 10.0 and not quarters:
            continue
        if m * base >= rough * (1 - 1e-9):
            return float(f"{m * base:.12g}")
    return 10.0 * base


def _text(axis: Axis, value: float, step: float) -> str:
    if axis.unit == "probability":
        return text_tick_percent(value)
    if axis.unit == "year":
        return f"{value:.{0 if step >= 1.0 else 1}f}"
    decimals = max(0, -math.floor(math.log10(abs(step)) + 1e-9)) if step else 0
    if f"{abs(step):.1e}".startswith("2.5"):
        decimals = max(decimals, 1 - math.floor(math.log10(abs(step)))) if abs(step) < 10 else 0
    if decimals > 5 or abs(value) >= 1e9:
        return f"{value:.3g}".replace("e-0", "e-").replace("-", "−")
    return f"{value + 0.0:,.{decimals}f}".replace("-", "−")


def text_tick_percent(p: float) -> str:
    """Write a probability as a tick: no digits that are not there."""
    return f"{100.0 * p:.6f}".rstrip("0").rstrip(".") + " %"


def axis_title(axis: Axis) -> str:
    """Return the words beside an axis: label and unit; percent ticks carry their own sign."""
    label = capital(axis.label)
    if axis.unit and axis.unit != "probability":
        return f"{label} ({axis.unit})" if label else axis.unit
    return label
