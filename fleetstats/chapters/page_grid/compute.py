"""Work out answers on a grid of settings, for the page that answers back.

For each confidence and each number of unreported failures the fleet is asked again by the same
rules as in the report: reliability and verdict over claimed hours, age by check interval, life,
cheapest age by cost ratio, and the overhaul band made of them. Unreported failures are placed where
they hurt most (of the three placings of `advice/tipping.py`, for the study's claim). Early ones can
make far ages look better, since they lower the shape; a number of them is therefore read as "up to
so many", and no answer improves with it. Each cell is made by the functions that make the study's
own answers, so it holds what a study with these settings would say.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from fleetstats.advice.advice import (
    VERDICTS,
    CostAnswer,
    OverhaulBand,
    ReliabilityAnswer,
    RiskAnswer,
    WearOut,
)
from fleetstats.advice.advise import aimed_lives
from fleetstats.advice.cost.answer import least_cost
from fleetstats.advice.judge import accepted_failure, judge_claims
from fleetstats.advice.left_out import say_further
from fleetstats.advice.life import advise_life, no_estimate
from fleetstats.advice.overhaul_band import advise_overhaul_band
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.risk import advise_risk
from fleetstats.advice.tipping import PLACINGS, suppose_hidden
from fleetstats.advice.wear_out import advise_wear_out
from fleetstats.bands.interval import Interval, no_better
from fleetstats.bands.quantity import Quantity
from fleetstats.core.units import ADVICE_STEP_H, round_edge
from fleetstats.core.value import Array, Value
from fleetstats.document.tabulated import Knob, Readout, Tabulated
from fleetstats.vocabulary.wording import stated

if TYPE_CHECKING:
    from fleetstats.advice.results import Results

LEVELS = (0.80, 0.90, 0.95)
CHECKS_H = (25.0, 50.0, 100.0)
RATIOS = (2.0, 4.0, 8.0)
HIDDEN = (0, 1, 2, 3)
"""Numbers of unreported failures; the study's own tipping count joins them up to `MOST_HIDDEN`."""

MOST_HIDDEN = 30
CLAIMS = 20
"""About how many claimed hours the grid has."""

WORDS = ("supported", "not-yet-shown", "hours-do-not-tell", "contradicted")
"""Verdicts from best to worst, as a reader of a claim would rank them."""


def chapter_tabulated(base: Results, _done: Mapping[str, Value]) -> Tabulated:
    """Return the grid of answers for the report's page."""
    grid = _Grid(base)
    knobs = [
        Knob(
            key="claim_h",
            label="Hours claimed between overhauls",
            kind="hours",
            values=grid.claims,
            start=grid.claim,
            free=True,
            help="" if grid.claimed else "The study claims none; this starts near its evidence.",
        )
    ]
    if grid.target is not None:
        knobs.append(
            Knob(key="check_h", label="Hours between checks", kind="hours",
                 values=np.array(grid.checks), start=grid.check)
        )  # fmt: skip
    if grid.ratios:
        knobs.append(
            Knob(key="cost_ratio", label="Cost of a failure over a planned overhaul",
                 kind="number", values=np.array(grid.ratios), start=grid.ratio)
        )  # fmt: skip
    knobs += [
        Knob(key="confidence", label="Confidence, two-sided", kind="percent",
             values=np.array(grid.levels), start=grid.level,
             help="Each edge alone is surer: 90 % gives one-sided 95 %."),
        Knob(key="hidden", label="Failures that nobody reported", kind="count",
             values=np.array(grid.hidden, dtype=float), start=0.0,
             help="Up to so many, placed where they hurt most."),
    ]  # fmt: skip
    return Tabulated(knobs=tuple(knobs), readings=(*grid.claim_readings(), *grid.age_readings()))


class _Grid:
    """Settings of the grid and the fleets at each number of unreported failures."""

    def __init__(self, base: Results) -> None:
        s = base.settings
        self.base, self.settings, self.advice = base, s, base.advice
        self.horizon = base.advice.horizon
        self.level = s.study.confidence
        self.levels = tuple(sorted({*LEVELS, self.level}))
        self.target = s.targets.risk_per_check
        self.check = s.check.interval_h
        self.checks = tuple(sorted({*CHECKS_H, self.check}))
        cost = self.advice.cost
        self.ratio = cost.ratio or 0.0
        self.ratios = (
            tuple(sorted({*RATIOS, self.ratio})) if cost.state == "answered" and cost.ratio else ()
        )
        self.claimed = s.study.claimed_interval_h is not None
        self.claims, self.claim = self._claims()
        v = self.advice.verdict
        turn = v.hidden_to_turn if v is not None else None
        more = {turn} if turn is not None and turn <= MOST_HIDDEN else set()
        self.hidden = tuple(sorted({*HIDDEN, *more}))
        own = Quoter.of(base.spells, base.fit, s)
        self.fleets = [self._fleet(own, k) for k in self.hidden]
        aim = aimed_lives(own)  # hours of overhaul count what an overhaul mends
        self.aimed = self.fleets if aim is own else [self._fleet(aim, k) for k in self.hidden]

    def _claims(self) -> tuple[Array, float]:
        """Return claimed hours from a step to past the oldest engine, the study's among them."""
        oldest = self.base.spells.oldest_h
        claim = self.settings.study.claimed_interval_h
        last = 1.15 * max(oldest, claim or 0.0)
        step = max(ADVICE_STEP_H, ADVICE_STEP_H * math.ceil(last / CLAIMS / ADVICE_STEP_H))
        if last < 4 * ADVICE_STEP_H:  # lives far shorter than the step of advice
            step = last / CLAIMS
        values = step * np.arange(1.0, math.floor(last / step) + 1.0)
        if claim is None:
            near = self.horizon.supported_h or 0.5 * oldest
            claim = float(values[int(np.argmin(np.abs(values - near)))])
        return np.unique(np.append(values, claim)), float(claim)

    def _fleet(self, lives: Quoter, k: int) -> Quoter:
        """Return the fleet with `k` unreported failures, placed where they hurt the claim most."""
        if k == 0:
            return lives
        options = [suppose_hidden(lives, k, self.claim, p) for p in PLACINGS]
        what = Quantity.reliability(self.claim)
        return options[int(np.argmin([o.interval(what).low or 0.0 for o in options]))]

    def claim_readings(self) -> list[Readout]:
        """Return verdict and reliability over claimed hours, confidence and hidden failures."""
        target = 1.0 - accepted_failure(self.settings)
        shape = (len(self.claims), len(self.levels), len(self.hidden))
        low, middle, high, word, held = (np.full(shape, np.nan) for _ in range(5))
        for j, level in enumerate(self.levels):
            judged = None
            for k, fleet in enumerate(self.fleets):
                judged = judge_claims(
                    with_settings(fleet, confidence=level), self.claims.tolist(), target,
                    fewer=judged,
                )  # fmt: skip
                for i, one in enumerate(judged):
                    low[i, j, k], middle[i, j, k], high[i, j, k] = _edges(one.reliability)
                    word[i, j, k] = WORDS.index(one.word)
                    held[i, j, k] = _edges(one.with_left_out)[0]
        beyond = np.broadcast_to(self.claims[:, None, None] > self.horizon.supported_h, shape)
        axes = ("claim_h", "confidence", "hidden")
        row = "Share of engines that reach the claimed hours"
        out = [
            Readout(
                row="Verdict on the claimed hours",
                part="word",
                kind="word",
                axes=axes,
                values=word.ravel(),
                words=tuple(VERDICTS[w] for w in WORDS),
                beyond=beyond.ravel(),
            )
        ]
        out += [
            Readout(row=row, part=part, kind="percent", axes=axes, values=v.ravel(),
                    beyond=beyond.ravel(), none=none, beside=(target,))
            for part, v, none in (
                ("low", low, "no lower limit"),
                ("estimate", middle, no_estimate(self.base.spells)),
                ("high", high, "no upper limit"),
            )
        ]  # fmt: skip
        left_out = self.base.spells.left_out
        if left_out:
            out.append(
                Readout(row=f"The same, counting {say_further(left_out)}", part="low",
                        kind="percent", axes=axes, values=held.ravel(), beyond=beyond.ravel(),
                        none="no lower limit", beside=(target,))
            )  # fmt: skip
        return out

    def age_readings(self) -> list[Readout]:
        """Return the ages of risk, reliability and cost, and the overhaul band made of them."""
        risks: dict[tuple[int, int, int], RiskAnswer] = {}
        costs: dict[tuple[int, int, int], CostAnswer] = {}
        lives: dict[tuple[int, int], ReliabilityAnswer] = {}
        wear: dict[tuple[int, int], WearOut] = {}
        checks = self.checks if self.target is not None else (self.check,)
        ratios: tuple[float | None, ...] = self.ratios or (None,)
        end = self.horizon.supported_h
        for (j, level), (k, fleet) in itertools.product(
            enumerate(self.levels), enumerate(self.aimed)
        ):
            asked = with_settings(fleet, confidence=level)
            wear[j, k] = advise_wear_out(asked)
            life = advise_life(asked, end)
            fewer = lives[j, k - 1].life if k else None
            if life.life is not None and fewer is not None:
                life = replace(life, life=no_better(life.life, fewer))
            lives[j, k] = life
            for i, width in enumerate(checks):
                risk = advise_risk(with_settings(asked, check_h=width), end, listed=False)
                before = risks[i, j, k - 1].chosen if k else None
                if risk.chosen is not None and before is not None:
                    age = no_better(risk.chosen.age, before.age, none_low=math.inf)
                    risk = replace(risk, chosen=replace(risk.chosen, age=age))
                risks[i, j, k] = risk
            for i, ratio in enumerate(ratios):
                cost = least_cost(with_settings(asked, ratio=ratio), wear[j, k], end)
                earlier = costs[i, j, k - 1].optimum if k else None
                if cost.optimum is not None and earlier is not None:
                    cost = replace(cost, optimum=no_better(cost.optimum, earlier))
                costs[i, j, k] = cost
        n = (len(self.levels), len(self.hidden))
        bands = {
            (c, m, j, k): advise_overhaul_band(
                wear[j, k], risks[c, j, k], lives[j, k], costs[m, j, k], self.horizon
            )
            for c, m, j, k in np.ndindex(len(checks), len(ratios), *n)
        }
        return self._rows(risks, costs, lives, bands, checks, ratios, n)

    def _rows(
        self, risks: dict, costs: dict, lives: dict, bands: dict, checks: tuple,  # type: ignore[type-arg]
        ratios: tuple, n: tuple[int, int],  # type: ignore[type-arg]
    ) -> list[Readout]:  # fmt: skip
        end = self.horizon.supported_h
        tail = ("confidence", "hidden")
        check_axis = ("check_h",) if self.target is not None else ()
        ratio_axis = ("cost_ratio",) if self.ratios else ()
        out = []
        band_axes = (*check_axis, *ratio_axis, *tail)
        edges = {key: _band_edges(b) for key, b in bands.items()}
        out += _three(
            "Overhaul band: plan from, expect at, not beyond", band_axes,
            [edges[key] for key in np.ndindex(len(checks), len(ratios), *n)], None,
            "none from these records",
        )  # fmt: skip
        if self.target is not None:
            ages = [_edges(risks[key].chosen.age) for key in np.ndindex(len(checks), *n)]
            out += _three(
                f"Age at which the chance before the next check passes {stated(self.target)}",
                (*check_axis, *tail), ages, end, "not at any age searched",
            )  # fmt: skip
        share = stated(self.settings.targets.reliability)
        out += _three(
            f"Age that {share} of engines reach", tail,
            [_edges(lives[key].life) for key in np.ndindex(*n)], end, "none from these records",
        )  # fmt: skip
        if self.ratios:
            ages = [_edges(costs[key].optimum) for key in np.ndindex(len(ratios), *n)]
            out += _three("Cheapest age for planned overhaul", (*ratio_axis, *tail), ages, end,
                          "no cheapest age")  # fmt: skip
        return out


def with_settings(
    lives: Quoter,
    *,
    confidence: float | None = None,
    check_h: float | None = None,
    ratio: float | None = None,
) -> Quoter:
    """Return a fleet asked at another confidence, check interval or cost ratio."""
    s = lives.settings
    if confidence is not None:
        s = replace(s, study=replace(s.study, confidence=confidence))
    if check_h is not None:
        s = replace(s, check=replace(s.check, interval_h=check_h))
    if ratio is not None:
        s = replace(s, cost=replace(s.cost, ratio=ratio))
    return lives.with_settings(s)


def _edges(interval: Interval | None) -> tuple[float, float, float]:
    if interval is None:
        return math.nan, math.nan, math.nan
    a, b, c = (
        math.nan if v is None else float(v)
        for v in (interval.low, interval.estimate, interval.high)
    )
    return a, b, c


def _band_edges(band: OverhaulBand) -> tuple[float, float, float]:
    a, b, c = (
        math.nan if e.hours is None else float(e.hours)
        for e in (band.plan_from, band.expect_at, band.not_beyond)
    )
    return a, b, c


def _three(
    row: str,
    axes: tuple[str, ...],
    values: list[tuple[float, float, float]],
    end_h: float | None,
    none: str,
) -> list[Readout]:
    """Return the three readings of a row of hours, rounded as advice is."""
    out = []
    for i, part in enumerate(("low", "estimate", "high")):
        column = np.array([v[i] for v in values])
        rounded = np.array([x if math.isnan(x) else round_edge(x, part) for x in column])
        out.append(
            Readout(
                row=row,
                part=part,
                kind="hours",
                axes=axes,
                values=rounded,
                beyond=None if end_h is None else np.nan_to_num(column) > end_h,
                none=none,
            )
        )
    return out
