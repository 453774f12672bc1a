"""The table of further chapters: what a study can answer beyond its main advice.

A chapter is a function ``(base, done) -> Value or None``: `base` holds the main results, `done`
the chapters before it. None means that the study has nothing for it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from fleetstats.core.value import Value
from fleetstats.decide.advice_chapters import (
    chapter_cautions,
    chapter_claim,
    chapter_hidden,
    chapter_plan,
)

if TYPE_CHECKING:
    from fleetstats.decide.results import Results

Chapter = Callable[["Results", Mapping[str, Value]], Value | None]

CHAPTERS: dict[str, tuple[str, Chapter]] = {
    "claim": ("what may be claimed", chapter_claim),
    "plan": ("what would show more", chapter_plan),
    "hidden": ("what may be hidden", chapter_hidden),
    "cautions": ("cautions", chapter_cautions),
}
"""Key: (name of the stage, chapter), in the order of the work; the cautions come last and see all."""
