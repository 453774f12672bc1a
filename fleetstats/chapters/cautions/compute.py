"""The coded cautions: what limits the use of a result, each with the figures that called for it.

A caution is data. Every code here is computed from the records and results at hand, never switched
on for show; chapters that know more (leak-down, bench, influence) bring their own.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from fleetstats.advice.advice import Advice
from fleetstats.advice.base_rate import BaseRate, check_base_rate
from fleetstats.advice.left_out import say_left_out
from fleetstats.chapters.cautions.assertions import (
    caution_as_stated,
    caution_assumed_shape,
    caution_carried,
    caution_settings,
)
from fleetstats.chapters.cautions.calendar import caution_since
from fleetstats.chapters.cautions.doubtful import caution_copies, caution_far
from fleetstats.chapters.cautions.rules import (
    caution_calendar,
    caution_clocks,
    caution_one_unit,
    caution_prior,
    caution_stale,
)
from fleetstats.chapters.plan import Plan
from fleetstats.core.units import text_decided, text_percent
from fleetstats.core.value import Value
from fleetstats.records.life import LifeRow
from fleetstats.spells import Event, Spells
from fleetstats.spells.asserted import LivesTold
from fleetstats.spells.build import Built, EndingCount
from fleetstats.spells.days.since import NOT_COUNTED
from fleetstats.spells.trouble.words import caution_left_out
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import (
    FEW_FOR_SHAPE,
    FEW_FOR_TWO,
    FINDINGS_SHARE,
    LATE_SHARE,
    PLAN_RISK,
    SECOND_BUILD_SHARE,
)
from fleetstats.vocabulary.wording import count, hours_exact, listed


def _failures(spells: Spells) -> list[Caution]:
    r = spells.n_failed
    if r == 0 and spells.left_out:
        told = say_left_out(spells.left_out)
        return [
            caution("zero-failures/left-out", value=told, limit="1 failure", told=capital(told))
        ]
    if r == 0:
        return [caution("zero-failures", value="0 failures", limit="1 failure")]
    if r >= FEW_FOR_TWO:
        return []
    few = r < FEW_FOR_SHAPE
    return [
        caution(
            "few-failures/shape" if few else "few-failures/two",
            value=count(r, "failure"),
            limit=f"{FEW_FOR_SHAPE if few else FEW_FOR_TWO} failures",
        )
    ]


def _past_support(advice: Advice) -> list[Caution]:
    h = advice.horizon.supported_h
    claimed = advice.verdict.claimed_h if advice.verdict is not None else None
    named: list[tuple[str, float]] = []
    if claimed is not None and claimed > h:
        named.append(("the claimed interval", claimed))
    life = advice.reliability.life
    if life is not None and life.low is not None and life.low > h:
        named.append((f"the lower bound of the {life.name}", life.low))
    chosen = advice.risk.chosen
    if chosen is not None and chosen.age.low is not None and chosen.age.low > h:
        named.append(("the pessimistic risk age", chosen.age.low))
    if advice.cost.extrapolated and advice.cost.optimum is not None:
        named.append(("the age of least cost", advice.cost.optimum.estimate or 0.0))
    if not named:
        return []
    what = listed([n for n, _ in named])
    return [
        caution(
            "past-support",
            value=listed([hours_exact(v, h) for _, v in named]),
            limit=f"{h:,.0f} h",
            what=capital(what),
            lie="lies" if len(named) == 1 else "lie",
            enough=advice.horizon.enough,
        )
    ]


def _late_entry(spells: Spells) -> list[Caution]:
    late = spells.entry > 0
    hours = spells.weight * (spells.exit_upper - spells.entry)
    total = float(hours.sum())
    share = float(hours[late].sum()) / total if total > 0 else 0.0
    if share <= LATE_SHARE:
        return []
    return [
        caution(
            "late-entry",
            value=f"{text_decided(share, LATE_SHARE)} of the hours",
            limit=text_percent(LATE_SHARE),
        )
    ]


def _informative(
    spells: Spells, rows: Sequence[LifeRow], endings: Sequence[EndingCount] = ()
) -> list[Caution]:
    found = spells.event == Event.FINDING
    n = float(spells.weight[found].sum())
    if rows:
        ended = np.array([r.ending != "running" for r in rows], dtype=bool)
        exits = float(spells.weight[ended].sum())
    elif endings:  # of a table whose rows are not kept
        left = [e for e in endings if e.counts_as not in NOT_COUNTED and e.ending != "running"]
        exits = float(sum(e.n for e in left))
    else:
        exits = float(spells.weight[spells.event != Event.CENSORED].sum())
    share = n / exits if exits else 0.0
    if n == 0 or (n < spells.n_failed and share <= FINDINGS_SHARE):
        return []
    return [
        caution(
            "informative-removal",
            value=f"{count(n, 'removal')} on a finding, "
            f"{text_decided(share, FINDINGS_SHARE)} of exits",
            limit=f"{count(spells.n_failed, 'failure')}; {text_percent(FINDINGS_SHARE)} of exits",
        )
    ]


def _builds(spells: Spells) -> list[Caution]:
    hours = spells.weight * (spells.exit_upper - spells.entry)
    total = float(hours.sum())
    names = [str(b) for b in np.unique(spells.build) if b]
    shares = {b: float(hours[spells.build == b].sum()) / total for b in names}
    big = [b for b in names if shares[b] >= SECOND_BUILD_SHARE]
    if len(big) < 2:
        return []
    return [
        caution(
            "mixed-builds",
            value=listed(
                [f"{b} {text_decided(shares[b], SECOND_BUILD_SHARE)} of the hours" for b in big]
            ),
            limit=f"{text_percent(SECOND_BUILD_SHARE)} for a second build",
        )
    ]


def _plan_risk(plan: Plan | None) -> list[Caution]:
    if plan is None:
        return []
    shape = plan.worst.shape
    worst = [o for o in plan.options if o.shape == shape and o.n_engines]
    over = [o for o in worst if o.chance_worse > PLAN_RISK]
    if not over:
        return []
    top = max(over, key=lambda o: o.chance_worse)
    which = "new engines" if top.option == "new" else "oldest engines run on"
    return [
        caution(
            "plan-risk",
            value=f"{text_decided(top.chance_worse, PLAN_RISK)} ({top.n_engines} {which})",
            limit=text_percent(PLAN_RISK),
        )
    ]


def _fate(n: int) -> list[Caution]:
    if not n:
        return []
    return [
        caution(
            "fate-unknown",
            value=count(n, "engine"),
            limit="0 engines",
            engines=count(n, "engine"),
            are="is" if n == 1 else "are",
        )
    ]


def _base_rate(check: BaseRate | None) -> list[Caution]:
    if check is None or check.state != "far-fewer":
        return []
    return [
        caution(
            "base-rate-gap",
            value=f"{count(check.seen, 'failure')} seen",
            limit=f"{check.expected:.3g} expected",
        )
    ]


def _declared(settings: Settings) -> list[Caution]:
    out = []
    causes = settings.check.undetectable_causes
    if causes:
        out.append(
            caution(
                "no-warning-mode/declared",
                value=listed([str(c) for c in causes]),
                limit="every cause detectable",
            )
        )
    if settings.study.commercial:
        out.append(caution("commercial", value="commercial use declared", limit="private use"))
    return out


def collect_cautions(
    spells: Spells,
    fit: Fit | None,
    settings: Settings,
    advice: Advice,
    *,
    built: Built | None = None,
    plan: Plan | None = None,
    results: Iterable[Value] = (),
) -> tuple[Caution, ...]:
    """Return every caution that applies, each once.

    Parameters
    ----------
    spells : Spells
        Lives at risk.
    fit : Fit or None
        Weibull fit of them.
    settings : Settings
        Limits, check interval, declared use, base rate.
    advice : Advice
        The advice that is qualified.
    built : Built, optional
        The rows behind the spells, for endings, dates, meters and unknown fates.
    plan : Plan, optional
        A plan of evidence, for its chance of a setback.
    results : iterable of Value, optional
        Other results; the cautions that they carry themselves are taken over.
    """
    rows: Sequence[LifeRow] = built.rows if built is not None else ()
    left_out = built.left_out if built is not None else ()
    told = LivesTold.of({}) if built is None else built.told_of(settings)
    found = [
        *_failures(spells),
        *caution_since(built.since if built is not None else None),
        *caution_left_out(left_out),
        *_past_support(advice),
        *_late_entry(spells),
        *_informative(spells, rows, built.endings if built is not None else ()),
        *caution_stale(told, settings),
        *_fate(built.n_fate_unknown if built is not None else 0),
        *caution_clocks(told, settings),
        *_base_rate(check_base_rate(spells, settings)),
        *caution_one_unit(spells, settings, advice),
        *caution_far(spells, rows, settings, advice),
        *caution_copies(spells, rows, settings, advice),
        *_builds(spells),
        *caution_calendar(rows, settings),
        *caution_prior(spells, fit, settings),
        *caution_assumed_shape(settings, advice),
        *caution_settings(spells, settings, built, told.meters),
        *caution_carried(spells, advice),
        *caution_as_stated(built, told),
        *_plan_risk(plan),
        *_declared(settings),
    ]
    brought = [
        c for value in results for c in getattr(value, "cautions", ()) if isinstance(c, Caution)
    ]
    # a chapter that compares groups, leaves units out one by one or goes through the modes of
    # failure knows more than the rule here
    better = {c.code for c in brought} & {"one-unit", "mixed-builds", "no-warning-mode"}
    found = [c for c in found if c.code not in better] + brought
    kept: dict[tuple[str, str, str], Caution] = {}
    for c in found:
        kept.setdefault((c.code, c.where, c.value), c)
    return tuple(kept.values())
