"""What is hidden: how the advice moves with facts that the records do not hold.

Each scenario is a fleet with one fact changed, fitted and bounded anew by the same rule
(`advice/quoted.py`); its answer is the hours to which the target reliability is shown. The bars of
the tornado are the least and most hours on each axis.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fleetstats.advice.base_rate import check_base_rate
from fleetstats.advice.judge import accepted_failure, judge_claim
from fleetstats.advice.left_out import held_to_left_out, say_further
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.tipping import add_spread, count_hidden
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.hidden.axes import (
    AxisBase,
    suppose_definition,
    suppose_doubtful,
    suppose_findings,
    suppose_joiners,
    suppose_left_out,
    suppose_lost,
    suppose_misread,
    suppose_reporting,
    suppose_unreported,
)
from fleetstats.chapters.hidden.values import (
    AXES,
    FindingCheck,
    Hidden,
    LostCheck,
    Scenario,
    TornadoBar,
)
from fleetstats.chapters.hidden.words import hidden_sentence
from fleetstats.records.life import LifeRow
from fleetstats.spells import Spells
from fleetstats.spells.build import Built
from fleetstats.spells.scenarios import doubtful_rows, lost_rows
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.wording import count

__all__ = ["Hidden", "estimate_hidden"]

NOT_IN_TORNADO = ("entry-ignored", "definition")
"""Axes that are a mistake, or another question, and no doubt about this one."""


def estimate_hidden(
    spells: Spells,
    fit: Fit | None,
    settings: Settings,
    built: Built | None = None,
    *,
    rows: Sequence[LifeRow] | None = None,
    n_fate_unknown: int = 0,
    paired: bool = False,
) -> Hidden:
    """Return how the advice moves with what the records do not hold, and where it would turn.

    Parameters
    ----------
    spells : Spells
        Lives at risk for the study's question.
    fit : Fit or None
        Weibull fit of them.
    settings : Settings
        Targets, claim, confidence, base rate.
    built : Built, optional
        The spells with the rows behind them; needed for lost engines, doubtful events and engines
        that are in no row.
    rows, n_fate_unknown
        The same two parts of `built`, where there is no `built`.
    paired : bool
        Whether entries were paired anew with ends, so that what supposes another fate of engines
        that joined late cannot be told.

    Notes
    -----
    Reporting share q: counts are thinned, so the bound of the cumulative hazard is divided by q
    (Oh & Bai 2001). Removals on a finding: see `chapters/hidden/findings_hazard.py`.
    """
    if built is not None:
        rows, n_fate_unknown = built.rows, built.n_fate_unknown
    claim = settings.study.claimed_interval_h
    accepted = accepted_failure(settings)
    target = settings.targets.reliability
    lives = Quoter.of(spells, fit, settings)
    hours = held_to_left_out(lives, Quantity.life(1.0 - target)).low or 0.0
    judged = None if claim is None else judge_claim(lives, claim, 1.0 - accepted)
    base = AxisBase(
        spells=spells, fit=fit, settings=settings, claim=claim, accepted=accepted, hours=hours,
        lives=lives, refused=judged is not None and bool(judged.refused),
    )  # fmt: skip
    supported = lives.reach_h
    r_low = None if judged is None else (judged.with_left_out or judged.reliability).low or 0.0
    shown = None if judged is None else judged.word == "supported"
    scenarios: list[Scenario] = []
    lost = findings = tipping = share = None
    if hours > 0.0:
        aligned = rows if rows is not None and len(rows) == len(spells) else None
        scenarios, lost, findings = _suppose(base, aligned, n_fate_unknown, paired)
        if claim is not None:
            tipping = count_hidden(spells, fit, settings, hours=claim, accepted=accepted)
            if r_low is not None and r_low > 0.0:
                share = math.log(r_low) / math.log1p(-accepted)
    out = Hidden(
        state="answered" if hours > 0.0 else "not-enough-evidence",
        sentence="",
        target=target,
        claimed_h=claim,
        accepted_failure=accepted,
        base_hours=hours,
        supported_h=supported,
        shown=shown,
        scenarios=tuple(scenarios),
        tornado=_tornado(scenarios, hours),
        tipping=tipping,
        reporting_share=share,
        lost=lost,
        findings=findings,
        base_rate=check_base_rate(spells, settings),
        left_out=say_further(spells.left_out) if spells.left_out else "",
    )
    return replace(out, sentence=hidden_sentence(out))


def _suppose(
    base: AxisBase, rows: Sequence[LifeRow] | None, n_fate_unknown: int, paired: bool
) -> tuple[list[Scenario], LostCheck | None, FindingCheck | None]:
    """Return the scenarios of all axes in their order, with what is said of lost and findings."""
    spells = base.spells
    none = np.zeros(len(spells), bool)
    out = [*suppose_unreported(base), *suppose_left_out(base), *suppose_reporting(base)]
    more, lost = suppose_lost(base, none if rows is None else lost_rows(rows))
    out += more
    if n_fate_unknown:
        until = base.claim or base.lives.reach_h or spells.oldest_h
        out.append(
            base.refitted(
                "fate-unknown",
                f"all {count(n_fate_unknown, 'engine')} of unknown fate failed, at ages spread "
                f"to {until:,.0f} h",
                add_spread(spells, n_fate_unknown, until),
            )
        )
    out += suppose_doubtful(base, none if rows is None else doubtful_rows(rows))
    if rows is not None:
        out += suppose_definition(base, rows)
    more, findings = suppose_findings(base)
    out += [*more, *suppose_misread(base), *(() if paired else suppose_joiners(base))]
    return out, lost, findings


def _tornado(scenarios: list[Scenario], base_hours: float) -> tuple[TornadoBar, ...]:
    bars = []
    for axis, title in AXES.items():
        mine = [s for s in scenarios if s.axis == axis]
        if not mine or axis in NOT_IN_TORNADO:
            continue
        low = min(mine, key=lambda s: s.hours_low)
        high = max(mine, key=lambda s: s.hours_low)
        as_is = "the records as they stand"
        bars.append(
            TornadoBar(
                axis=axis,
                title=title,
                low_h=min(low.hours_low, base_hours),
                high_h=max(high.hours_low, base_hours),
                low_label=low.label if low.hours_low < base_hours else as_is,
                high_label=high.label if high.hours_low > base_hours else as_is,
            )
        )
    return tuple(sorted(bars, key=lambda b: b.low_h - b.high_h))
