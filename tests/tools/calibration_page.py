"""The page of the calibration study: its table, a picture, and what they say.

``python tests/tools/calibration_page.py [folder]`` makes it from the table stored in the
package, without running the study again.
"""

from __future__ import annotations

import sys
from importlib import resources
from pathlib import Path

import numpy as np
from calibration import (
    HIGHEST,
    LOWEST,
    CoverageCurve,
    coverage_curves,
    write_study,
)

from fleetstats.bands.coverage_table import FILE, read_table
from fleetstats.core.files import write_whole
from fleetstats.document.document import Axis, Figure, Layer, Panel
from fleetstats.report.figures import draw_figure, rasterise

SHOWN = (
    ("shape-mixture", "default", "band"),
    ("profile", "profile likelihood", "group-1"),
    ("normal-log", "normal approximation", "group-2"),
)
"""Methods in the picture: name in the table, label, role."""

TITLES = {
    ("B10", "low"): "B10 life, lower edge",
    ("B10", "high"): "B10 life, upper edge",
    ("R", "low"): "Reliability at 1,200 h, lower edge",
    ("R", "high"): "Reliability at 1,200 h, upper edge",
    ("conditional", "low"): "Failing within 50 h after 1,200 h, lower edge",
    ("conditional", "high"): "Failing within 50 h after 1,200 h, upper edge",
    ("shape", "low"): "Shape, lower edge",
    ("shape", "high"): "Shape, upper edge",
}
LEAST_SHOWN = 0.80


def coverage_figure(curves: tuple[CoverageCurve, ...]) -> Figure:
    """Return the picture: for each edge, the least to greatest coverage over all conditions."""
    panels = []
    by = {(c.method, c.quantity, c.edge): c for c in curves}
    for (quantity, edge), title in TITLES.items():
        layers = []
        for method, label, role in SHOWN:
            c = by.get((method, quantity, edge))
            if c is None:
                continue
            if role == "band":
                layers.append(
                    Layer(
                        kind="ribbon",
                        role="band",
                        label=f"{label}, least to greatest",
                        x=c.expected,
                        low=np.maximum(c.lowest, LEAST_SHOWN),
                        high=c.highest,
                    )
                )
            else:
                layers.append(
                    Layer(
                        kind="line",
                        role=role,
                        label=f"{label}, least",
                        x=c.expected,
                        y=np.maximum(c.lowest, LEAST_SHOWN),
                    )
                )
        layers.extend(
            Layer(kind="hline", role="target", y=np.array([goal])) for goal in (LOWEST, HIGHEST)
        )
        panels.append(
            Panel(
                x=Axis(label="Failures expected", scale="log"),
                y=Axis(label="Fleets held", unit="probability", low=LEAST_SHOWN, high=1.0),
                layers=tuple(layers),
                title=title,
            )
        )
    least = min(
        float(np.min(c.lowest)) for c in curves if c.method == SHOWN[0][0] and len(c.lowest)
    )
    return Figure(
        key="coverage",
        title="How often 95 % edges held the truth",
        see=(
            "The shaded range is the default's, over true shapes 1 to 5, 50 and 250 engines, with "
            "and without delayed entry; the two flat lines are the range wanted."
        ),
        alt=(
            "Eight panels of coverage against failures expected. The default never holds fewer "
            f"than {100 * least:.1f} % of fleets; the others fall lower on one side or the other."
        ),
        panels=tuple(panels),
        columns=2,
        height=2.2,
    )


def _heading() -> str:
    """Return the first line of the stored table, which says how it was made."""
    stored = resources.files("fleetstats.bands") / FILE
    return stored.read_text(encoding="utf-8").split("\n", 1)[0].removeprefix("# ")


def write_calibration_page(folder: Path) -> Path:
    """Write ``README.md``, ``coverage.csv``, ``coverage.svg`` and ``.png`` into a folder.

    Raises
    ------
    ReadError
        If the stored table cannot be read.
    """
    rows = read_table()
    drawing = draw_figure(coverage_figure(coverage_curves(rows)))
    write_study(rows, folder, _heading(), picture="coverage.svg")
    for name, data in (
        ("coverage.svg", drawing.svg.encode("utf-8")),
        ("coverage.png", rasterise({"coverage": drawing.svg})["coverage"]),
    ):
        write_whole(folder / name, data)
    return folder


if __name__ == "__main__":
    write_calibration_page(Path(sys.argv[1] if len(sys.argv) > 1 else "reports/calibration"))
