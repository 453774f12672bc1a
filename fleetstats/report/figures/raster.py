"""Figures as raster pictures, made from their vector drawings.

All at once: the typesetting library, which also sets the report's paper, is started once for them.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fleetstats.core.errors import ReportError

DPI = 160.0
"""Points of a picture in an inch of the drawing."""

PAGE = "#set page(width: auto, height: auto, margin: 0pt, fill: white)\n"


def rasterise(drawings: Mapping[str, str]) -> dict[str, bytes]:
    """Return PNG pictures of drawings, by their keys.

    Parameters
    ----------
    drawings : mapping
        Key = SVG text whose letters are outlines, so that no font is needed.

    Raises
    ------
    ReportError
        When a drawing cannot be read.
    """
    import typst

    if not drawings:
        return {}
    with tempfile.TemporaryDirectory(prefix="fleetstats-") as name:
        folder = Path(name)
        for i, svg in enumerate(drawings.values()):
            (folder / f"{i}.svg").write_text(svg, "utf-8")
        pages = "#pagebreak()\n".join(f'#image("{i}.svg")\n' for i in range(len(drawings)))
        (folder / "all.typ").write_text(PAGE + pages, "utf-8")
        try:
            out = typst.compile(
                str(folder / "all.typ"), root=str(folder), ignore_system_fonts=True,
                format="png", ppi=DPI,
            )  # fmt: skip
        except typst.TypstError as error:
            raise ReportError(f"The figures cannot be drawn as PNG: {error.message}") from error
    # one page comes as its bytes, many as a list of them
    pages_drawn: Any = out
    pictures = pages_drawn if isinstance(pages_drawn, list) else [pages_drawn]
    return {key: bytes(p) for key, p in zip(drawings, pictures, strict=True)}
