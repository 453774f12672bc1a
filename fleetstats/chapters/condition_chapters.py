"""Checks, trends, each engine, the fleet and the bench, as chapters of a study."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import Protocol

from fleetstats.chapters.ahead.backtest import Backtest, backtest_forecast
from fleetstats.chapters.ahead.forecast import forecast_fleet
from fleetstats.chapters.ahead.forecast_values import Forecast
from fleetstats.chapters.ahead.outlook import Outlook, Sign, look_ahead
from fleetstats.chapters.bench.compute import judge_bench
from fleetstats.chapters.bench.values import Bench
from fleetstats.chapters.checks.compliance import Compliance, count_checks
from fleetstats.chapters.checks.compute import advise_check_interval
from fleetstats.chapters.checks.lives import FOUND_ENDINGS, build_check_lives
from fleetstats.chapters.checks.values import CheckInterval
from fleetstats.chapters.trends.compute import read_trends
from fleetstats.chapters.trends.values import Trends
from fleetstats.core.value import Value
from fleetstats.records.condition.condition import CONDITION_SHAPES, Condition, read_condition
from fleetstats.records.reading import Records
from fleetstats.spells.build import Built
from fleetstats.spells.running import find_running
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.study.study import Study
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.ids import normalise_id

LIKELY_BELOW = 0.2
"""Chance of reading below the limit at the next check from which a cylinder is a sign."""


class Base(Protocol):
    """What these chapters need of a study's results."""

    @property
    def study(self) -> Study:
        """Return the study."""

    @property
    def settings(self) -> Settings:
        """Return its settings."""

    @property
    def records(self) -> Records:
        """Return its records as read."""

    @property
    def built(self) -> Built:
        """Return its lives, with the rows behind them."""

    @property
    def spells(self) -> Spells:
        """Return its lives at risk."""

    @property
    def fit(self) -> Fit | None:
        """Return the Weibull fit, if there is one."""


def chapter_condition(base: Base, _done: Mapping[str, Value]) -> Condition | None:
    """Return what was read of checks, leak-down sheets and bench runs; None without such files."""
    if not base.study.of_shape(*CONDITION_SHAPES):
        return None
    return read_condition(base.study, base.built.rows)


def condition_of(done: Mapping[str, Value]) -> Condition:
    """Return the condition records among the chapters before; empty where there are none."""
    found = done.get("condition")
    return found if isinstance(found, Condition) else Condition(checks=(), leakdown=(), bench=())


def chapter_compliance(base: Base, done: Mapping[str, Value]) -> Compliance | None:
    """Return checks due beside checks done; None without check records."""
    condition = done.get("condition")
    if not isinstance(condition, Condition) or not condition.checks:
        return None
    return count_checks(base.built.rows, condition.checks, base.settings)


def chapter_check_interval(base: Base, done: Mapping[str, Value]) -> CheckInterval | None:
    """Return whether the checks are frequent enough.

    None where neither a check sheet nor a fault found at a check is in the records: then nothing
    tells what the checks find.
    """
    checks = tuple(c for c in condition_of(done).checks if c.result)
    if not checks and not any(r.ending in FOUND_ENDINGS for r in base.built.rows):
        return None
    lives = build_check_lives(base.built.rows, checks, base.settings)
    return advise_check_interval(lives, base.settings) if len(lives) else None


def chapter_trends(base: Base, done: Mapping[str, Value]) -> Trends | None:
    """Return the trends of leak-down, metal on the plug and oil use."""
    condition = condition_of(done)
    running = {normalise_id(e.engine) for e in find_running(base.built.rows, base.settings)}
    return read_trends(condition.leakdown, condition.checks, base.settings, running)


def chapter_outlook(base: Base, done: Mapping[str, Value]) -> Outlook | None:
    """Return each running engine's outlook, with the signs that its trends give."""
    trends = done.get("trends")
    signs = signs_of_trends(trends) if isinstance(trends, Trends) else {}
    engines = find_running(base.built.rows, base.settings)
    return look_ahead(base.spells, base.fit, engines, base.settings, signs)


def chapter_forecast(base: Base, _done: Mapping[str, Value]) -> Forecast | None:
    """Return what is coming for the fleet."""
    engines = find_running(base.built.rows, base.settings)
    return forecast_fleet(base.spells, base.fit, engines, base.settings)


def chapter_backtest(base: Base, _done: Mapping[str, Value]) -> Backtest | None:
    """Return the forecast of an earlier date beside what came."""
    return backtest_forecast(base.built.rows, base.spells, base.settings)


def chapter_bench(base: Base, done: Mapping[str, Value]) -> Bench | None:
    """Return what the bench says of service, tested against the field."""
    return judge_bench(condition_of(done).bench, base.spells, base.settings)


def signs_of_trends(trends: Trends) -> dict[str, tuple[Sign, ...]]:
    """Return the signs on each engine, by id in the form in which engines are compared."""
    out: dict[str, list[Sign]] = defaultdict(list)
    for c in trends.cylinders:
        for text in c.signs:
            weight = 3 if c.look_first else 2
            out[normalise_id(c.engine)].append(
                Sign(weight=weight, text=f"cylinder {c.cylinder}: {text}")
            )
        if c.chance_below is not None and c.chance_below > LIKELY_BELOW and not c.signs:
            out[normalise_id(c.engine)].append(
                Sign(
                    weight=2,
                    text=f"cylinder {c.cylinder}: chance {100 * c.chance_below:.0f} % of reading "
                    "below its limit at the next check",
                )
            )
    for p in trends.plugs:
        out[normalise_id(p.engine)].append(Sign(weight=3 if p.chance_of_more is None or p.grade > 2
                                                or p.jump > 1 else 2, text=p.sign))  # fmt: skip
    for o in trends.oils:
        out[normalise_id(o.engine)].append(Sign(weight=2, text=o.sign))
    return {k: tuple(v) for k, v in out.items()}
