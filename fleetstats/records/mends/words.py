"""What is said of mends as a whole."""

from __future__ import annotations

from collections.abc import Sequence

from fleetstats.records.mends.mend import ASIDE, Mended
from fleetstats.vocabulary.wording import count, listed


def say_mends(mended: Sequence[Mended]) -> str:
    """Say how much was decided: "17 cells mended, 2 rows set aside by decision"."""
    n_aside = sum(m.mend.act == ASIDE for m in mended)
    n_cells = len(mended) - n_aside
    parts = [f"{count(n_cells, 'cell')} mended"] if n_cells else []
    parts += [f"{count(n_aside, 'row')} set aside by decision"] if n_aside else []
    return ", ".join(parts) or "no cell mended"


def say_effects(mended: Sequence[Mended]) -> str:
    """Say what mends did to failures: "2 rows tell of no failure any more"; blank where nothing."""
    told = {
        "removed": ("tells of no failure any more", "tell of no failure any more"),
        "added": ("tells of a failure only so", "tell of a failure only so"),
        "hours": ("tells of a failure at other hours", "tell of a failure at other hours"),
        "cause": ("tells of a failure of another cause", "tell of a failure of another cause"),
    }
    parts = []
    for key, (one, many) in told.items():
        n = sum(m.effect == key for m in mended)
        parts += [f"{count(n, 'row')} {one if n == 1 else many}"] if n else []
    return listed(parts)
