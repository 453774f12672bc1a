"""Pictures of the chapter on pooling."""

from __future__ import annotations

import math

import numpy as np

from fleetstats.chapters.groups.values import PoolingBy
from fleetstats.document.document import Axis, Figure, Layer, Panel
from fleetstats.document.layers import mark_at
from fleetstats.survival.groups.pooling import VERDICTS

_GROUPS = 6


def draw_ratios(g: PoolingBy) -> Figure:
    """Return the ratios of lives with their bands against the margin."""
    names = tuple(f"{r.name} over {r.against}" for r in g.ratios)
    low, high = g.ratios[0].margin
    known = [v for r in g.ratios for v in (r.low, r.high, r.ratio) if v is not None]
    # An edge that does not exist is drawn to the frame, never as a number.
    bottom = min([low / 2.0, *(v / 1.3 for v in known)])
    top = max([high * 2.0, *(v * 1.3 for v in known)])
    start = np.array([r.low if r.low is not None else bottom for r in g.ratios])
    stop = np.array([r.high if r.high is not None else top for r in g.ratios])
    middle = np.array([r.ratio if r.ratio is not None else math.nan for r in g.ratios])
    place = np.arange(len(names), dtype=float)
    r = g.ratios[0]
    also = f", at {100 * r.apart_level:.3g} % too," if r.comparisons > 1 else ""
    return Figure(
        key=f"pooling-{g.by}",
        title=f"Life of each {g.by} over the others",
        see="Only a bar that lies wholly within the zone permits pooling; one wholly "
        f"outside{also} forbids it; any other cannot tell.",
        alt="Bars of life ratios against the margin: "
        + "; ".join(f"{n}: {VERDICTS[r.verdict]}" for n, r in zip(names, g.ratios, strict=True))
        + ".",
        panels=(
            Panel(
                x=Axis(label="Ratio of lives", scale="log", low=bottom, high=top),
                y=Axis(label="", scale="category", categories=names),
                layers=(
                    Layer(
                        kind="zone",
                        role="reference",
                        label="margin",
                        x=np.array([low]),
                        x2=np.array([high]),
                    ),
                    mark_at("reference", "", 1.0),
                    Layer(
                        kind="spans",
                        role="band",
                        label=f"{100 * g.ratios[0].level:g} % band",
                        x=start,
                        x2=stop,
                        y=place,
                        names=names,
                    ),
                    Layer(kind="points", role="optimum", label="best estimate", x=middle, y=place),
                ),
            ),
        ),
        height=1.4 + 0.35 * len(names),
    )


def draw_regions(g: PoolingBy) -> Figure:
    """Return the joint likelihood regions of shape and scale, one colour a group."""
    layers: list[Layer] = []
    shown = g.regions[:_GROUPS]
    for i, region in enumerate(shown):
        role = f"group-{i + 1}"
        for k, line in enumerate(region.regions):
            layers.append(
                Layer(
                    kind="line",
                    role=role,
                    label=region.name if k == 0 else "",
                    x=line.scale_h,
                    y=line.shape,
                )
            )
        layers.append(
            Layer(
                kind="points",
                role=role,
                x=np.array([region.scale_h]),
                y=np.array([region.shape]),
                names=(region.name,),
            )
        )
    levels = " and ".join(f"{100 * x.level:g} %" for x in shown[0].regions)
    return Figure(
        key=f"regions-{g.by}",
        title=f"Shape and scale of each {g.by}",
        see=f"Each pair of lines holds the values that its records support at {levels}; lines that "
        "lie apart show a difference.",
        alt="Closed lines around each group's shape and scale: "
        + "; ".join(f"{r.name} shape {r.shape:.2f}, scale {r.scale_h:,.0f} h" for r in shown)
        + ".",
        panels=(
            Panel(
                x=Axis(label="Scale", unit="h", scale="log"),
                y=Axis(label="Shape", scale="log"),
                layers=tuple(layers),
            ),
        ),
    )
