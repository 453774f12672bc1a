"""What the page's own script reads: values under the pointer, and the answers at other settings."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from fleetstats.document.document import Figure, Layer, Panel
from fleetstats.document.tabulated import Tabulated
from fleetstats.report.figures import Drawing
from fleetstats.report.json import script_json

POINTS_KEPT = 160
"""Points of a curve kept for readings under the pointer."""


def data_pieces(
    figures: Sequence[Figure],
    drawn: Mapping[str, tuple[Drawing, Drawing]],
    tabulated: Tabulated | None,
) -> Iterator[str]:
    """Yield JSON for a script element, the values of one figure at a time.

    Parameters
    ----------
    figures : sequence of Figure
        The page's.
    drawn : mapping
        Figure key = (wide, narrow) drawings.
    tabulated : Tabulated or None
        The answers at other settings.
    """
    live = sorted((f for f in figures if has_readings(f)), key=lambda f: f.key)
    yield '{"figures":{'
    for i, figure in enumerate(live):
        yield f"{',' if i else ''}{script_json(figure.key)}:"
        yield script_json(_hover(figure, drawn[figure.key]))
    yield f'}},"tabulated":{script_json(_tabulated(tabulated))}}}'


def has_readings(figure: Figure) -> bool:
    """Return whether a figure has values to show under the pointer."""
    return any(True for p in figure.panels for _ in _read_layers(p))


def _in_rows(panel: Panel) -> bool:
    return any(layer.kind == "spans" for layer in panel.layers)


def _read_layers(panel: Panel) -> Iterator[Layer]:
    """Yield the layers of a panel whose values are shown."""
    kinds = ("spans",) if _in_rows(panel) else ("line", "step", "ribbon", "points", "bars")
    if panel.x.scale not in ("category",):
        yield from (v for v in panel.layers if v.kind in kinds and v.x is not None)


def _tabulated(tabulated: Tabulated | None) -> Any:
    """Return knobs and readings for the page's script, without what it does not use."""
    if tabulated is None:
        return None
    knobs = ("key", "label", "kind", "values", "start", "free", "help")
    reads = ("row", "part", "kind", "axes", "words", "none", "beyond", "round_to", "beside")
    return {
        "knobs": [{a: getattr(k, a) for a in knobs} for k in tabulated.knobs],
        "readings": [
            {a: getattr(r, a) for a in reads} | {"values": [_short(v, 7) for v in r.values]}
            for r in tabulated.readings
        ],
    }


def _hover(figure: Figure, faces: tuple[Drawing, Drawing]) -> dict[str, Any]:
    """Return what the page's script needs to show values under the pointer."""
    return {
        "panels": [_hover_panel(p) for p in figure.panels],
        "wide": [_frame(f) for f in faces[0].frames],
        "narrow": [_frame(f) for f in faces[1].frames],
    }


def _frame(frame: Any) -> dict[str, Any]:
    return {
        "l": round(frame.left, 2),
        "t": round(frame.top, 2),
        "w": round(frame.width, 2),
        "h": round(frame.height, 2),
        "lo": frame.x.low,
        "hi": frame.x.high,
        "ylo": frame.y.low,
        "yhi": frame.y.high,
        "down": frame.y.axis.scale == "category",
    }


def _hover_panel(panel: Panel) -> dict[str, Any]:
    layers = []
    for layer in _read_layers(panel):
        assert layer.x is not None
        n = len(layer.x)
        pick = np.arange(n)
        if layer.kind in ("line", "ribbon") and n > POINTS_KEPT:
            pick = np.unique(np.linspace(0, n - 1, POINTS_KEPT).round().astype(int))
        out: dict[str, Any] = {
            "kind": layer.kind,
            "label": layer.label,
            "far": layer.extrapolated_from,
            "names": [layer.names[i] for i in pick] if len(layer.names) == n else [],
        }
        for a in ("x", "x2", "y", "low", "high"):
            v = getattr(layer, a)
            if v is not None:
                out[a] = [_short(v[i], 5) for i in pick]
        layers.append(out)
    unit = {"probability": "probability", "h": "h"}
    return {
        "rows": _in_rows(panel),
        "xscale": panel.x.scale,
        "xunit": unit.get(panel.x.unit, ""),
        "yunit": unit.get(panel.y.unit, ""),
        "layers": layers,
    }


def _short(value: float, digits: int) -> float | None:
    x = float(value)
    return float(f"{x:.{digits}g}") if math.isfinite(x) else None
