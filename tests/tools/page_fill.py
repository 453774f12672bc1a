"""How full is each page of a PDF: run ``python tests/tools/page_fill.py report.pdf …``.

Pages are drawn small in grey by ``pdftoppm``; the last row with ink above the page's foot tells how
far down a page is used. Heads and feet are left out by the margins of the template.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np

DPI = 40
MM = DPI / 25.4
HEAD_MM, FOOT_MM = 22.0, 23.0
"""Margins of the page, with its head and foot in them."""
INK = 200
"""Grey under which a dot counts as ink; rules and shades are lighter than letters, not than it."""


def fill_of(pdf: Path) -> list[float]:
    """Return for each page the share of its height that is used, from the top to the last ink.

    Raises
    ------
    RuntimeError
        When ``pdftoppm`` is not installed.
    """
    tool = shutil.which("pdftoppm")
    if tool is None:
        raise RuntimeError("pdftoppm is not installed")
    done = subprocess.run(
        [tool, "-r", str(DPI), "-gray", str(pdf)], capture_output=True, check=True
    )
    return [_used(page) for page in _pages(done.stdout)]


def _pages(raw: bytes) -> list[np.ndarray]:
    """Return the pages of a stream of grey pictures (PGM, P5)."""
    out, at = [], 0
    while at < len(raw):
        fields: list[bytes] = []
        while len(fields) < 4:
            end = at
            while raw[end : end + 1] not in (b" ", b"\n"):
                end += 1
            fields.append(raw[at:end])
            at = end + 1
        wide, high = int(fields[1]), int(fields[2])
        out.append(np.frombuffer(raw, np.uint8, wide * high, at).reshape(high, wide))
        at += wide * high
    return out


def _used(page: np.ndarray) -> float:
    top, end = round(HEAD_MM * MM), page.shape[0] - round(FOOT_MM * MM)
    inked = np.flatnonzero((page[top:end] < INK).any(axis=1))
    return 0.0 if not len(inked) else float(inked[-1] + 1) / (end - top)


if __name__ == "__main__":
    for name in sys.argv[1:]:
        fills = fill_of(Path(name))
        told = " ".join(f"{100 * f:.0f}" for f in fills)
        print(f"{name}: {len(fills)} pages, least {100 * min(fills):.0f} %: {told}")
