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
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.tipping import Tipping, add_hidden, count_hidden, hidden_ages
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.hidden.axes import (
    AxisBase,
    suppose_definition,
    suppose_doubtful,
    suppose_findings,
    suppose_joiners,
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
from fleetstats.core.units import round_hours, text_number
from fleetstats.records.lives.life import LifeRow
from fleetstats.spells import Spells
from fleetstats.spells.build import Built
from fleetstats.spells.scenarios import doubtful_rows, lost_rows
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.wording import at_most, count, hours_down, listed

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
    hours = lives.interval(Quantity.life(1.0 - target)).low or 0.0
    base = AxisBase(
        spells=spells, fit=fit, settings=settings, claim=claim, accepted=accepted, hours=hours,
        lives=lives,
    )  # fmt: skip
    supported = lives.reach_h
    judged = None if claim is None else judge_claim(lives, claim, 1.0 - accepted)
    r_low = None if judged is None else judged.reliability.low or 0.0
    shown = None if judged is None else judged.word == "supported"
    scenarios: list[Scenario] = []
    lost = findings = tipping = share = None
    if hours > 0.0:
        aligned = rows if rows is not None and len(rows) == len(spells) else None
        scenarios, lost, findings = _suppose(base, aligned, n_fate_unknown)
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
    )
    return replace(out, sentence=_sentence(out))


def _suppose(
    base: AxisBase, rows: Sequence[LifeRow] | None, n_fate_unknown: int
) -> tuple[list[Scenario], LostCheck | None, FindingCheck | None]:
    """Return the scenarios of all axes in their order, with what is said of lost and findings."""
    spells = base.spells
    none = np.zeros(len(spells), bool)
    out = [*suppose_unreported(base), *suppose_reporting(base)]
    more, lost = suppose_lost(base, none if rows is None else lost_rows(rows))
    out += more
    if n_fate_unknown:
        until = base.claim or base.lives.reach_h or spells.oldest_h
        out.append(
            base.refitted(
                "fate-unknown",
                f"all {count(n_fate_unknown, 'engine')} of unknown fate failed, at ages spread "
                f"to {until:,.0f} h",
                add_hidden(spells, hidden_ages(n_fate_unknown, until, "spread")),
            )
        )
    out += suppose_doubtful(base, none if rows is None else doubtful_rows(rows))
    if rows is not None:
        out += suppose_definition(base, rows)
    more, findings = suppose_findings(base)
    out += [*more, *suppose_misread(base), *suppose_joiners(base)]
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


def _sentence(h: Hidden) -> str:
    if h.state != "answered":
        return "The records show no hours for the target reliability, so there is nothing to upset."
    worst = h.tornado[0]
    text = (
        f"The records as they stand show the target reliability to {hours_down(h.base_hours)}; "
        f"the doubt that moves this most is {worst.title} "
        f"({round_hours(worst.low_h):,.0f} to {round_hours(worst.high_h):,.0f} h)."
    )
    if max(h.base_hours, worst.high_h) > h.supported_h:
        text += f" Hours beyond {h.supported_h:,.0f} h lie past the evidence: extrapolation."
    if not h.shown or h.claimed_h is None:
        return text
    turning = _turning(h.tipping, h)
    if turning:
        text += f" The claim of {h.claimed_h:,.0f} h would no longer be shown with {turning}."
    return text


def _turning(tipping: Tipping | None, h: Hidden) -> str:
    parts = []
    if tipping is not None and tipping.least is not None:
        parts.append(count(tipping.least, "unreported failure"))
    if h.reporting_share is not None:
        parts.append(f"fewer than {at_most(h.reporting_share, 1.0)} of failures reported")
    if h.lost is not None and h.lost.to_turn is not None:
        parts.append(f"{h.lost.to_turn} of the {h.lost.n_lost} lost engines failed")
    if h.findings is not None and h.findings.hazard_ratio is not None:
        ratio = text_number(h.findings.hazard_ratio, digits=2)
        parts.append(f"engines removed on a finding {ratio} times as likely to fail as the others")
    return listed(parts, "or")
