"""What is said of hours at risk and failures by calendar year."""

from __future__ import annotations

from collections.abc import Sequence

from fleetstats.chapters.calendar_plane.values import YearLine
from fleetstats.vocabulary.wording import count


def say_plane(
    lines: Sequence[YearLine], n_lives: float, n_undated: int, undated_failed: int
) -> str:
    """Say over which years the hours were run, and where the failures fell."""
    hours = sum(x.exposure_h for x in lines)
    failed = sum(x.n_failed for x in lines)
    first, last = lines[0].year, lines[-1].year
    text = (
        f"{count(n_lives, 'life', 'lives')} ran {hours:,.0f} h from {first} to {last}, with "
        f"{count(failed, 'failure')} in question."
    )
    half, run = 0.0, lines[0].year
    for x in lines:
        half += x.exposure_h
        run = x.year
        if half >= 0.5 * hours:
            break
    text += f" Half of these hours were run by the end of {run}."
    if n_undated:
        text += f" {count(n_undated, 'life', 'lives')} that no date places"
        text += f", {count(undated_failed, 'failure')} among them," if undated_failed else ""
        text += f" {'is' if n_undated == 1 else 'are'} not in this view."
    return text
