"""One module to a chapter: turns results into a Section of the report.

`COMPOSERS` is the one table: the order of the report is its order. A composer takes the whole
`Results`; `of_chapter` wraps one that takes its own chapter's value. None means: nothing to say.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fleetstats.decide.results import Results
from fleetstats.report.document import Section
from fleetstats.report.sections.analysis import compose_analysis, say_beside_advice
from fleetstats.report.sections.answer import compose_answer
from fleetstats.report.sections.assumptions import compose_assumptions
from fleetstats.report.sections.bench import compose_bench
from fleetstats.report.sections.causes import compose_causes
from fleetstats.report.sections.check_interval import compose_check_interval
from fleetstats.report.sections.checks import compose_checks
from fleetstats.report.sections.claim import compose_claim
from fleetstats.report.sections.condition import compose_condition
from fleetstats.report.sections.data import compose_data
from fleetstats.report.sections.decision import compose_decision
from fleetstats.report.sections.definitions import compose_definitions
from fleetstats.report.sections.exposure import compose_exposure
from fleetstats.report.sections.failures import compose_failures
from fleetstats.report.sections.forecast import compose_forecast
from fleetstats.report.sections.growth import compose_growth
from fleetstats.report.sections.hidden import compose_hidden
from fleetstats.report.sections.later_lives import compose_later_lives
from fleetstats.report.sections.other_records import (
    compose_calendar,
    compose_clock_range,
    compose_looking_back,
    compose_no_calendar,
    compose_returns,
)
from fleetstats.report.sections.outlook import compose_outlook
from fleetstats.report.sections.plan import compose_plan
from fleetstats.report.sections.pooling import compose_pooling
from fleetstats.report.sections.population import compose_configuration, compose_population
from fleetstats.report.sections.provenance import compose_provenance
from fleetstats.report.sections.recurrent import compose_recurrent
from fleetstats.report.sections.regression import compose_regression
from fleetstats.report.sections.routes import compose_routes
from fleetstats.report.sections.sensitivity import compose_sensitivity
from fleetstats.report.sections.trends import compose_trends

Composer = Callable[[Results], Section | None]


def of_chapter(key: str, compose: Callable[[Any], Section | None]) -> Composer:
    """Wrap a composer that takes the value of chapter `key`; no such chapter, no section."""

    def composed(results: Results) -> Section | None:
        value = results.chapters.get(key)
        return None if value is None else compose(value)

    return composed


def _forecast(results: Results) -> Section | None:
    """Compose the forecast with the back-test beside it."""
    value = results.chapters.get("forecast")
    back: Any = results.chapters.get("backtest")
    return None if value is None else compose_forecast(value, back)  # type: ignore[arg-type]


def _routes(results: Results) -> Section | None:
    """Compose the other routes, with how the advice differs from their bands."""
    value: Any = results.chapters.get("routes")
    return None if value is None else compose_routes(value, say_beside_advice(results))


def _calendar(results: Results) -> Section:
    """Compose hours beside years, or say that the records have too few dates for it."""
    view: Any = results.chapters.get("calendar")
    return compose_no_calendar(results) if view is None else compose_calendar(view)


COMPOSERS: tuple[tuple[str, Composer], ...] = (
    ("answer", compose_answer),
    ("population", compose_population),
    ("configuration", compose_configuration),
    ("data", compose_data),
    ("returns", compose_returns),
    ("clock-range", of_chapter("clock-range", compose_clock_range)),
    ("definitions", compose_definitions),
    ("exposure", compose_exposure),
    ("calendar", _calendar),
    ("failures", compose_failures),
    ("analysis", compose_analysis),
    ("routes", _routes),
    ("causes", of_chapter("causes", compose_causes)),
    ("pooling", of_chapter("pooling", compose_pooling)),
    ("effects", of_chapter("effects", compose_regression)),
    ("later-lives", of_chapter("later-lives", compose_later_lives)),
    ("growth", of_chapter("growth", compose_growth)),
    ("recurrence", of_chapter("recurrence", compose_recurrent)),
    ("assumptions", compose_assumptions),
    ("sensitivity", compose_sensitivity),
    ("looking-back", of_chapter("looking-back", compose_looking_back)),
    ("hidden", compose_hidden),
    ("checks", compose_checks),
    ("condition", of_chapter("condition", compose_condition)),
    ("check-interval", of_chapter("check-interval", compose_check_interval)),
    ("trends", of_chapter("trends", compose_trends)),
    ("outlook", of_chapter("outlook", compose_outlook)),
    ("forecast", _forecast),
    ("bench", of_chapter("bench", compose_bench)),
    ("decision", compose_decision),
    ("claim", compose_claim),
    ("plan", compose_plan),
    ("provenance", compose_provenance),
)
"""Key and composer, in the order in which a sceptic reads."""
