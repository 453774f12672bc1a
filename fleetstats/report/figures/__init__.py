"""Any `Figure` as a picture: laid out, drawn once with a small pen, and turned into each format."""

from fleetstats.report.figures.draw import draw_figure
from fleetstats.report.figures.drawing import Drawing, PanelFrame
from fleetstats.report.figures.raster import rasterise

__all__ = ["Drawing", "PanelFrame", "draw_figure", "rasterise"]
