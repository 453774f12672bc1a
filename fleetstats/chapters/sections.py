"""One module to a chapter: turns results into a Section of the report.

`COMPOSERS` is the one table: the order of the report is its order. A composer takes the whole
`Results`; `of_chapter` wraps one that takes its own chapter's value. None means: nothing to say.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fleetstats.advice.results import Results
from fleetstats.chapters.ahead.forecast_section import compose_forecast
from fleetstats.chapters.ahead.outlook_section import compose_outlook
from fleetstats.chapters.analysis.section import compose_analysis, say_beside_advice
from fleetstats.chapters.analysis.sensitivity import compose_sensitivity
from fleetstats.chapters.answer.section import compose_answer
from fleetstats.chapters.assumptions.section import compose_assumptions
from fleetstats.chapters.bench.section import compose_bench
from fleetstats.chapters.causes.section import compose_causes
from fleetstats.chapters.checks.account import compose_condition
from fleetstats.chapters.checks.programme import compose_checks
from fleetstats.chapters.checks.section import compose_check_interval
from fleetstats.chapters.claim.section import compose_claim
from fleetstats.chapters.covariates.section import compose_regression
from fleetstats.chapters.data.section import compose_data
from fleetstats.chapters.decision.section import compose_decision
from fleetstats.chapters.definitions.section import compose_definitions
from fleetstats.chapters.exposure.section import compose_exposure
from fleetstats.chapters.failures.section import compose_failures
from fleetstats.chapters.groups.section import compose_pooling
from fleetstats.chapters.growth.section import compose_growth
from fleetstats.chapters.hidden.section import compose_hidden
from fleetstats.chapters.later_lives.section import compose_later_lives
from fleetstats.chapters.other_records.section import (
    compose_calendar,
    compose_clock_range,
    compose_looking_back,
    compose_no_calendar,
    compose_returns,
)
from fleetstats.chapters.plan.section import compose_plan
from fleetstats.chapters.population.section import compose_configuration, compose_population
from fleetstats.chapters.provenance.section import compose_provenance
from fleetstats.chapters.recurrence.section import compose_recurrent
from fleetstats.chapters.routes.section import compose_routes
from fleetstats.chapters.trends.section import compose_trends
from fleetstats.document.document import Section

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
