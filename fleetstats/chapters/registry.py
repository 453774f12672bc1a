"""The one table of chapters: what a study can answer, in the order in which a sceptic reads.

To add a chapter, make its folder and add its line here: the work, the report, the tables of a verb
and the verb itself follow from it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from fleetstats.chapters.ahead.chapter import (
    chapter_backtest,
    chapter_forecast,
    chapter_outlook,
)
from fleetstats.chapters.ahead.forecast_section import compose_forecast
from fleetstats.chapters.ahead.outlook_section import compose_outlook
from fleetstats.chapters.analysis.section import compose_analysis
from fleetstats.chapters.analysis.sensitivity import compose_sensitivity
from fleetstats.chapters.answer.section import compose_answer
from fleetstats.chapters.assumptions.section import compose_assumptions
from fleetstats.chapters.bench.chapter import chapter_bench
from fleetstats.chapters.bench.section import compose_bench
from fleetstats.chapters.between_sources.chapter import chapter_between
from fleetstats.chapters.calendar_plane.chapter import chapter_calendar_plane
from fleetstats.chapters.calendar_plane.section import compose_plane
from fleetstats.chapters.calls.chapter import chapter_calls
from fleetstats.chapters.calls.section import compose_calls
from fleetstats.chapters.causes.chapter import chapter_causes
from fleetstats.chapters.causes.section import compose_causes
from fleetstats.chapters.cautions.chapter import chapter_cautions
from fleetstats.chapters.change.chapter import chapter_change
from fleetstats.chapters.change.section import compose_change
from fleetstats.chapters.chapter import Chapter, always
from fleetstats.chapters.checks.account import compose_condition
from fleetstats.chapters.checks.chapter import (
    chapter_check_interval,
    chapter_compliance,
    chapter_condition,
)
from fleetstats.chapters.checks.programme import compose_checks
from fleetstats.chapters.checks.section import compose_check_interval
from fleetstats.chapters.claim.chapter import chapter_claim
from fleetstats.chapters.claim.section import compose_claim
from fleetstats.chapters.clock_doubt.chapter import chapter_clock_doubt
from fleetstats.chapters.clock_doubt.section import compose_clock_doubt
from fleetstats.chapters.clocks_and_dates.chapter import (
    chapter_calendar,
    chapter_clocks,
    chapter_looking_back,
)
from fleetstats.chapters.clocks_and_dates.section import (
    calendar_section,
    compose_clock_range,
    compose_looking_back,
    compose_returns,
)
from fleetstats.chapters.covariates.chapter import chapter_effects
from fleetstats.chapters.covariates.section import compose_regression
from fleetstats.chapters.curve_fit.compute import chapter_curve_fit
from fleetstats.chapters.curve_fit.section import compose_curve_fit
from fleetstats.chapters.data.chapter import data_section
from fleetstats.chapters.decision.rule_chance import chapter_stop_chance
from fleetstats.chapters.decision.section import compose_decision
from fleetstats.chapters.declared.chapter import chapter_declared
from fleetstats.chapters.declared.section import compose_declared
from fleetstats.chapters.definitions.section import compose_definitions
from fleetstats.chapters.departures.chapter import chapter_departures
from fleetstats.chapters.departures.section import compose_departures
from fleetstats.chapters.exposure.section import compose_exposure
from fleetstats.chapters.failures.section import compose_failures
from fleetstats.chapters.groups.chapter import chapter_pooling
from fleetstats.chapters.groups.section import compose_pooling
from fleetstats.chapters.growth.chapter import chapter_growth
from fleetstats.chapters.growth.section import compose_growth
from fleetstats.chapters.hidden.chapter import chapter_hidden, states_rate
from fleetstats.chapters.hidden.section import hidden_section
from fleetstats.chapters.integrity.chapter import chapter_integrity
from fleetstats.chapters.integrity.section import compose_integrity
from fleetstats.chapters.later_lives.compute import chapter_later_lives
from fleetstats.chapters.later_lives.section import compose_later_lives
from fleetstats.chapters.looks.chapter import chapter_look_plan
from fleetstats.chapters.looks.section import compose_look_plan
from fleetstats.chapters.looks_made.chapter import chapter_looks
from fleetstats.chapters.looks_made.section import compose_looks
from fleetstats.chapters.mends.chapter import chapter_mends
from fleetstats.chapters.mends.section import compose_mends
from fleetstats.chapters.origin.chapter import chapter_origin
from fleetstats.chapters.origin.section import compose_origin
from fleetstats.chapters.page_grid.compute import chapter_tabulated
from fleetstats.chapters.plan.chapter import chapter_plan
from fleetstats.chapters.plan.section import compose_plan
from fleetstats.chapters.population.section import compose_configuration, compose_population
from fleetstats.chapters.provenance.section import compose_provenance
from fleetstats.chapters.recurrence.chapter import chapter_recurrence
from fleetstats.chapters.recurrence.section import compose_recurrent
from fleetstats.chapters.removals.chapter import chapter_removals
from fleetstats.chapters.removals.section import compose_removals
from fleetstats.chapters.routes.chapter import chapter_routes, routes_section
from fleetstats.chapters.since.chapter import chapter_since_dates
from fleetstats.chapters.sources.chapter import chapter_sources
from fleetstats.chapters.sources.section import compose_sources
from fleetstats.chapters.stress.chapter import chapter_stress
from fleetstats.chapters.stress.section import compose_stress
from fleetstats.chapters.trends.chapter import chapter_trends
from fleetstats.chapters.trends.section import compose_trends
from fleetstats.chapters.unreported.chapter import chapter_unreported
from fleetstats.chapters.unreported.section import compose_unreported
from fleetstats.chapters.use_per_year.chapter import chapter_use_per_year
from fleetstats.chapters.use_per_year.section import compose_use
from fleetstats.chapters.verbs import (
    BENCH,
    CAUSES,
    EFFECTS,
    EVENTS,
    FORECAST,
    HIDDEN,
    INTERVAL,
    OUTLOOK,
    POOL,
    REMOVALS,
    SOURCES,
    TRENDS,
)
from fleetstats.chapters.weakest.chapter import chapter_weakest
from fleetstats.study.settings import Settings

CHAPTERS: dict[str, Chapter] = {
    c.key: c
    for c in (
        Chapter(key="answer", compose=compose_answer, long_tables=True),
        Chapter(key="population", compose=compose_population,
                annex="records", keeps=("said", "table-funnel")),
        Chapter(key="configuration", compose=compose_configuration),
        Chapter(key="origin", stage="where the records come from", compute=chapter_origin,
                brief=always, show=compose_origin, long_tables=True, annex="records",
                keeps=("said",)),
        Chapter(key="data", compose=data_section, long_tables=True,
                annex="records", keeps=("said", "table-sources")),
        Chapter(key="mends", stage="what was decided about cells", compute=chapter_mends,
                compose=compose_mends, long_tables=True, qualifies=True, annex="records",
                keeps=("said",)),
        Chapter(key="returns", compose=compose_returns, annex="records"),
        Chapter(key="clock-range", stage="both ends of the clocks",
                long_tables=True, compute=chapter_clocks,
                show=compose_clock_range, annex="records"),
        Chapter(key="clock-doubt", stage="clocks in doubt",
                long_tables=True, compute=chapter_clock_doubt,
                brief=always, show=compose_clock_doubt, annex="records"),
        Chapter(key="definitions", compose=compose_definitions, long_tables=True,
                annex="records", keeps=("said",)),
        Chapter(key="exposure", compose=compose_exposure, long_tables=True,
                annex="lives", keeps=("fact", "fig-at-risk")),
        Chapter(key="calendar", stage="hours and years", brief=always,
                long_tables=True, compute=chapter_calendar,
                compose=calendar_section, annex="lives"),
        Chapter(key="calendar-plane", stage="age and calendar",
                long_tables=True, compute=chapter_calendar_plane,
                show=compose_plane, annex="lives"),
        Chapter(key="use-per-year", stage="use per year",
                long_tables=True, compute=chapter_use_per_year,
                show=compose_use, qualifies=True, annex="lives"),
        Chapter(key="failures", compose=compose_failures, long_tables=True,
                annex="lives", keeps=("said",)),
        Chapter(key="analysis", compose=compose_analysis, long_tables=True,
                annex="curves", keeps=("said", "fig-survival", "table-estimates")),
        Chapter(key="curve-fit", long_tables=True, stage="whether the failures follow the curve",
                compute=chapter_curve_fit, show=compose_curve_fit, qualifies=True, annex="curves"),
        Chapter(key="routes", stage="other routes to the same answer", compute=chapter_routes,
                compose=routes_section, opinions=True, annex="curves"),
        Chapter(key="causes", stage="causes",
                long_tables=True, compute=chapter_causes, show=compose_causes,
                verb=CAUSES, apart=1, annex="checks", keeps=("answer", "caution")),
        Chapter(key="between-sources", stage="whether the sources differ",
                long_tables=True, compute=chapter_between, qualifies=True),
        Chapter(key="pooling", stage="whether the sources may be pooled",
                needs=("between-sources",), apart=5,
                long_tables=True, compute=chapter_pooling, show=compose_pooling,
                brief=always, beside=("between-sources",), verb=POOL,
                annex="groups", keeps=("first", "answer", "caution")),
        Chapter(key="sources", stage="what each source tells", apart=3,
                long_tables=True, compute=chapter_sources,
                show=compose_sources, verb=SOURCES, qualifies=True, annex="groups"),
        Chapter(key="effects", stage="builds and covariates",
                long_tables=True, compute=chapter_effects,
                show=compose_regression, apart=3, verb=EFFECTS, annex="groups"),
        Chapter(key="later-lives", stage="lives after overhaul",
                long_tables=True, compute=chapter_later_lives,
                show=compose_later_lives, annex="groups"),
        Chapter(key="growth", stage="growth over the calendar",
                long_tables=True, compute=chapter_growth,
                show=compose_growth, annex="groups"),
        Chapter(key="change", stage="whether the rate changed",
                long_tables=True, compute=chapter_change,
                show=compose_change, qualifies=True, annex="groups"),
        Chapter(key="recurrence", stage="events that recur", apart=1, compute=chapter_recurrence,
                show=compose_recurrent, verb=EVENTS, annex="checks"),
        Chapter(key="declared", stage="what was declared", compute=chapter_declared,
                compose=compose_declared, long_tables=True, qualifies=True),
        Chapter(key="departures", stage="departures from defaults", compute=chapter_departures,
                compose=compose_departures, long_tables=True, qualifies=True, annex="settings"),
        Chapter(key="assumptions", compose=compose_assumptions, long_tables=True,
                annex="doubts", keeps=("table-assumptions",)),
        Chapter(key="since", stage="conditions since a date", compute=chapter_since_dates,
                apart=2, brief=always),
        Chapter(key="sensitivity", long_tables=True, compose=compose_sensitivity, annex="doubts"),
        Chapter(key="looking-back", stage="earlier cut-off dates", apart=2,
                long_tables=True, compute=chapter_looking_back,
                show=compose_looking_back, annex="doubts"),
        Chapter(key="looks-made", stage="looks made before", compute=chapter_looks,
                compose=compose_looks, long_tables=True, qualifies=True, annex="doubts"),
        Chapter(key="looks", stage="looks made and planned", compute=chapter_look_plan,
                show=compose_look_plan, qualifies=True, long_tables=True, annex="doubts"),
        Chapter(key="integrity", stage="signs that ask for a second look",
                compute=chapter_integrity, show=compose_integrity, qualifies=True, annex="doubts"),
        Chapter(key="unreported", stage="failures that nobody told", compute=chapter_unreported,
                show=compose_unreported, qualifies=True, annex="doubts"),
        Chapter(key="hidden", stage="what may be hidden", apart=1,
                long_tables=True, compute=chapter_hidden,
                brief=states_rate, needs=("unreported",), show=hidden_section, verb=HIDDEN,
                annex="doubts", keeps=("said", "table-base-rate", "fig-hidden-tornado")),
        Chapter(key="removals", long_tables=True, stage="whether removals look like failures",
                compute=chapter_removals, show=compose_removals, verb=REMOVALS, qualifies=True,
                annex="doubts"),
        Chapter(key="checks", long_tables=True, compose=compose_checks, annex="checks",
                keeps=("first", "caution", "missing")),
        Chapter(key="condition", stage="checks and readings",
                long_tables=True, compute=chapter_condition,
                show=compose_condition, annex="checks"),
        Chapter(key="compliance", stage="checks due and done", needs=("condition",),
                compute=chapter_compliance),
        Chapter(key="check-interval", long_tables=True, stage="whether checks are frequent enough",
                needs=("condition",), apart=9, compute=chapter_check_interval,
                show=compose_check_interval, verb=INTERVAL,
                annex="checks", keeps=("answer", "caution")),
        Chapter(key="trends", stage="trends", needs=("condition",),
                long_tables=True, compute=chapter_trends,
                show=compose_trends, verb=TRENDS, annex="checks", keeps=("answer",)),
        Chapter(key="outlook", stage="each engine", needs=("trends",),
                long_tables=True, compute=chapter_outlook,
                brief=always, show=compose_outlook, verb=OUTLOOK,
                annex="ahead",
                keeps=("answer", "extrapolation", "caution")),
        Chapter(key="forecast", stage="the fleet's forecast", needs=("change",),
                apart=6, long_tables=True, compute=chapter_forecast, show=compose_forecast,
                beside=("backtest",), verb=FORECAST, annex="ahead",
                keeps=("answer", "extrapolation")),
        Chapter(key="backtest", stage="the forecast of a year ago", compute=chapter_backtest,
                apart=4, qualifies=True),
        Chapter(key="bench", stage="bench and field", needs=("condition",),
                long_tables=True, compute=chapter_bench,
                show=compose_bench, verb=BENCH, annex="checks", keeps=("answer",)),
        Chapter(key="stop-chance", stage="the stop rule's own chance",
                needs=("forecast", "change"),
                compute=chapter_stop_chance),
        Chapter(key="decision", compose=compose_decision, long_tables=True,
                annex="ahead", keeps=("answer", "fact", "assumption", "missing", "table-answers")),
        Chapter(key="claim", stage="what may be claimed", brief=always, compute=chapter_claim,
                compose=compose_claim, long_tables=True,
                annex="ahead", keeps=("said", "fig-claim-bound")),
        Chapter(key="plan", stage="what would show more", brief=always,
                long_tables=True, compute=chapter_plan,
                compose=compose_plan, annex="ahead", keeps=("answer", "table-plan-needs")),
        Chapter(key="calls", stage="whom to ask", apart=8, compute=chapter_calls,
                show=compose_calls, annex="ahead"),
        Chapter(key="stress", stage="fleets made up under other truths", compute=chapter_stress,
                show=compose_stress, annex="doubts"),
        Chapter(key="tabulated", stage="answers at other settings", compute=chapter_tabulated,
                apart=7),
        Chapter(key="weakest", stage="the weakest points", compute=chapter_weakest, last=True),
        Chapter(key="cautions", stage="cautions", compute=chapter_cautions, last=True),
        Chapter(key="provenance", compose=compose_provenance, long_tables=True,
                annex="settings"),
    )
}  # fmt: skip
"""Every chapter by its key, in the order of the report."""


def work_order(chapters: Mapping[str, Chapter]) -> tuple[str, ...]:
    """Return the keys of what is worked out: each after what it needs, the last after all."""
    found: list[str] = []

    def visit(key: str) -> None:
        chapter = chapters.get(key)
        if chapter is None or key in found or chapter.compute is None:
            return
        for needed in chapter.needs:
            visit(needed)
        found.append(key)

    for key in sorted(chapters, key=lambda k: chapters[k].last):
        visit(key)
    return tuple(found)


def quick_order(chapters: Mapping[str, Chapter], settings: Settings) -> tuple[str, ...]:
    """Return the keys of what a quick study of these settings works out, in their order.

    It is what may qualify a claim, what the brief reads, and what these need.
    """
    asked = [k for k, c in chapters.items() if c.qualifies or c.brief(settings) or c.last]
    wanted = {k for key in asked for k in (key, *needed_by(key, chapters))}
    return tuple(k for k in work_order(chapters) if k in wanted)


def needed_by(key: str, chapters: Mapping[str, Chapter] = CHAPTERS) -> tuple[str, ...]:
    """Return what is worked out to show one chapter: what it needs, what stands beside, itself."""
    wanted: set[str] = set()

    def want(keys: Iterable[str]) -> None:
        for k in keys:
            wanted.add(k)
            want(chapters[k].needs)

    want((key, *chapters[key].beside))
    return tuple(k for k in work_order(chapters) if k in wanted)
