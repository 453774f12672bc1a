"""The table of further chapters: what a study can answer beyond its main advice.

A chapter is a function ``(base, done) -> Value or None``: `base` holds the main results, `done`
the chapters before it. None means that the study has nothing for it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from fleetstats.chapters.advice_chapters import (
    chapter_cautions,
    chapter_claim,
    chapter_hidden,
    chapter_plan,
)
from fleetstats.chapters.condition_chapters import (
    chapter_backtest,
    chapter_bench,
    chapter_check_interval,
    chapter_compliance,
    chapter_condition,
    chapter_forecast,
    chapter_outlook,
    chapter_trends,
)
from fleetstats.chapters.later_lives.compute import chapter_later_lives
from fleetstats.chapters.page_grid.compute import chapter_tabulated
from fleetstats.chapters.pooled_chapters import (
    chapter_causes,
    chapter_effects,
    chapter_growth,
    chapter_pooling,
    chapter_recurrence,
)
from fleetstats.chapters.record_chapters import (
    chapter_calendar,
    chapter_clocks,
    chapter_looking_back,
)
from fleetstats.chapters.routes.chapter import chapter_routes
from fleetstats.core.value import Value

if TYPE_CHECKING:
    from fleetstats.advice.results import Results

Chapter = Callable[["Results", Mapping[str, Value]], Value | None]

CHAPTERS: dict[str, tuple[str, Chapter]] = {
    "routes": ("other routes to the same answer", chapter_routes),
    "causes": ("causes", chapter_causes),
    "pooling": ("whether the sources may be pooled", chapter_pooling),
    "effects": ("builds and covariates", chapter_effects),
    "growth": ("growth over the calendar", chapter_growth),
    "recurrence": ("events that recur", chapter_recurrence),
    "later-lives": ("lives after overhaul", chapter_later_lives),
    "clock-range": ("both ends of the clocks", chapter_clocks),
    "looking-back": ("earlier cut-off dates", chapter_looking_back),
    "calendar": ("hours and years", chapter_calendar),
    "claim": ("what may be claimed", chapter_claim),
    "plan": ("what would show more", chapter_plan),
    "hidden": ("what may be hidden", chapter_hidden),
    "condition": ("checks and readings", chapter_condition),
    "compliance": ("checks due and done", chapter_compliance),
    "check-interval": ("whether checks are frequent enough", chapter_check_interval),
    "trends": ("trends", chapter_trends),
    "outlook": ("each engine", chapter_outlook),
    "forecast": ("the fleet's forecast", chapter_forecast),
    "backtest": ("the forecast of a year ago", chapter_backtest),
    "bench": ("bench and field", chapter_bench),
    "tabulated": ("answers at other settings", chapter_tabulated),
    "cautions": ("cautions", chapter_cautions),
}
"""Key: (stage, chapter), in the order of the work. The cautions come last and see all."""

OPINION = "routes"
"""The chapter that reads the libraries' opinions."""

LAST = "cautions"
"""The chapter that reads all others."""

APART = ("effects", "tabulated", "causes")
"""Long chapters that ask the main results alone and that only the cautions read; they may be worked
out beside the others. The longest first."""


def run_apart(key: str, base: Results) -> Value | None:
    """Return a chapter of `APART`."""
    return CHAPTERS[key][1](base, {})
