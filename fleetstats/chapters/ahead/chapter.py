"""Each engine, the fleet, and the look back, as chapters of a study."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

from fleetstats.chapters.ahead.backtest import Backtest, backtest_forecast
from fleetstats.chapters.ahead.failures_ahead import FailuresAhead, failures_ahead
from fleetstats.chapters.ahead.forecast import forecast_fleet
from fleetstats.chapters.ahead.forecast_values import Forecast
from fleetstats.chapters.ahead.outlook import look_ahead
from fleetstats.chapters.ahead.outlook_values import Outlook, Sign
from fleetstats.chapters.change import Changed
from fleetstats.chapters.chapter import Base
from fleetstats.chapters.trends import Trends
from fleetstats.core.value import Value
from fleetstats.spells.running import running_among
from fleetstats.survival.change.evidence import Mixture
from fleetstats.vocabulary.ids import normalise_id

LIKELY_BELOW = 0.2
"""Chance of reading below the limit at the next check from which a cylinder is a sign."""


def chapter_outlook(base: Base, done: Mapping[str, Value]) -> Outlook | None:
    """Return each running engine's outlook, with the signs that its trends give."""
    trends = done.get("trends")
    signs = signs_of_trends(trends) if isinstance(trends, Trends) else {}
    engines = running_among(base.built.rows, base.spells, base.settings)
    return look_ahead(base.spells, base.fit, engines, base.settings, signs)


def chapter_forecast(base: Base, done: Mapping[str, Value]) -> Forecast | None:
    """Return what is coming for the fleet, at the rate of now."""
    engines = running_among(base.built.rows, base.spells, base.settings)
    return forecast_fleet(base.spells, base.fit, engines, base.settings, mixture_of(done))


def failures_again(base: Base, done: Mapping[str, Value]) -> FailuresAhead | None:
    """Return the failures of the fleet's forecast, worked out without the rest of it."""
    engines = running_among(base.built.rows, base.spells, base.settings)
    if not engines:
        return None
    return failures_ahead(base.spells, engines, base.settings, mixture_of(done))


def mixture_of(done: Mapping[str, Value]) -> Mixture | None:
    """Return draws of what the rate is now, where the chapter on changes has them."""
    changed = done.get("change")
    return changed.mixture if isinstance(changed, Changed) else None


def chapter_backtest(base: Base, _done: Mapping[str, Value]) -> Backtest | None:
    """Return the forecast of an earlier date beside what came."""
    return backtest_forecast(base.built.rows, base.spells, base.settings)


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
