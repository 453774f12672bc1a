"""Work out answers on a grid of settings, for the page that answers back.

For each confidence and each number of unreported failures the fleet is asked again by the same
rules as in the report: reliability and verdict over claimed hours, age by check interval, life,
cheapest age by cost ratio, and the overhaul band made of them. Unreported failures are placed where
they hurt most (of the three placings of `advice/tipping.py`, for the study's claim). Early ones can
make far ages look better, since they lower the shape; a number of them is therefore read as "up to
so many", and no answer improves with it. Where the study stands, the grid holds the report's own
figures.
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
from fleetstats.advice.mended import mended_lives
from fleetstats.advice.overhaul_band import advise_overhaul_band
from fleetstats.advice.quoted import is_few
from fleetstats.advice.tipping import PLACINGS, add_hidden, hidden_ages, try_fit
from fleetstats.advice.verdict import accepted_failure, hold_at_end, verdict_word
from fleetstats.bands.interval import Interval
from fleetstats.chapters.page_grid.fleet import GridFleet
from fleetstats.core.units import ADVICE_STEP_H, round_hours
from fleetstats.core.value import Array, Value
from fleetstats.document.tabulated import Knob, Reading, Tabulated
from fleetstats.vocabulary.wording import stated

if TYPE_CHECKING:
    from fleetstats.advice.results import Results
    from fleetstats.spells import Spells
    from fleetstats.survival.fit import Fit

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
        own = {turn} if turn is not None and turn <= MOST_HIDDEN else set()
        self.hidden = tuple(sorted({*HIDDEN, *own}))
        few = is_few(base.spells, base.fit)
        self.fleets = [self._fleet(base.spells, base.fit, k, few) for k in self.hidden]
        self.aimed = self.fleets
        mended = mended_lives(base.spells, s)
        if mended is not None:  # hours of overhaul count what an overhaul mends
            fit = try_fit(mended)
            few = is_few(mended, fit)
            self.aimed = [self._fleet(mended, fit, k, few) for k in self.hidden]

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

    def _fleet(self, fleet: Spells, fit: Fit | None, k: int, few: bool) -> GridFleet:
        ratios = () if few else self.ratios
        if k == 0:
            return GridFleet.of(fleet, fleet, fit, self.settings, few=few, ratios=ratios)
        more = [add_hidden(fleet, hidden_ages(k, self.claim, p)) for p in PLACINGS]
        options = [
            GridFleet.of(m, fleet, try_fit(m), self.settings, few=few, ratios=ratios) for m in more
        ]
        lows = [o.reliability(self.claim).low or 0.0 for o in options]
        return options[int(np.argmin(lows))]

    def _here(self, level: float, k: int) -> bool:
        """Tell whether a combination is where the study stands."""
        return level == self.level and k == 0

    def claim_readings(self) -> list[Reading]:
        """Return verdict and reliability over claimed hours, confidence and hidden failures."""
        target = 1.0 - accepted_failure(self.settings)
        shape = (len(self.claims), len(self.levels), len(self.hidden))
        low, middle, high, word = (np.full(shape, np.nan) for _ in range(4))
        worst: dict[tuple[int, int], Interval] = {}
        ends: dict[int, Interval] = {}
        for (j, level), (k, fleet) in itertools.product(
            enumerate(self.levels), enumerate(self.fleets)
        ):
            asked = fleet.at(level)
            wear_out = asked.wear_out()
            reach = self.horizon.supported_h
            if reach > 0.0:
                end = asked.reliability(reach)
                ends[j] = no_better(end, ends[j]) if k else end
            for i, hours in enumerate(self.claims.tolist()):
                r = asked.reliability(hours)
                v = self.advice.verdict
                if v is not None and self._here(level, k) and hours == v.claimed_h:
                    r = v.reliability
                past = hours > reach
                end_here = ends.get(j) if past else None
                r = hold_at_end(r, end_here, target, reach)
                if k:
                    r = no_better(r, worst[i, j])
                worst[i, j] = r
                said, _ = verdict_word(
                    r,
                    target,
                    past=past,
                    wear_out=wear_out,
                    n_failed=asked.spells.n_failed,
                    end=end_here,
                )
                low[i, j, k], middle[i, j, k], high[i, j, k] = _edges(r)
                word[i, j, k] = WORDS.index(said)
        beyond = np.broadcast_to(self.claims[:, None, None] > self.horizon.supported_h, shape)
        axes = ("claim_h", "confidence", "hidden")
        row = "Share of engines that reach the claimed hours"
        out = [
            Reading(
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
            Reading(row=row, part=part, kind="percent", axes=axes, values=v.ravel(),
                    beyond=beyond.ravel(), none=none, beside=(target,))
            for part, v, none in (
                ("low", low, "no lower limit"),
                ("estimate", middle, "too few failures for an estimate"),
                ("high", high, "no upper limit"),
            )
        ]  # fmt: skip
        return out

    def age_readings(self) -> list[Reading]:
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
            asked, here = fleet.at(level), self._here(level, k)
            wear[j, k] = self.advice.wear_out if here else asked.wear_out()
            life = self.advice.reliability if here else asked.life(end)
            fewer = lives[j, k - 1].life if k else None
            if life.life is not None and fewer is not None:
                life = replace(life, life=no_better(life.life, fewer))
            lives[j, k] = life
            for i, width in enumerate(checks):
                own = here and width == self.check
                risk = self.advice.risk if own else asked.risk(width, end)
                before = risks[i, j, k - 1].chosen if k else None
                if risk.chosen is not None and before is not None:
                    age = no_better(risk.chosen.age, before.age, none_low=math.inf)
                    risk = replace(risk, chosen=replace(risk.chosen, age=age))
                risks[i, j, k] = risk
            for i, ratio in enumerate(ratios):
                own = here and ratio in (None, self.ratio)
                cost = self.advice.cost if own else asked.cost(ratio, wear[j, k], end)
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
    ) -> list[Reading]:  # fmt: skip
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


def no_better(now: Interval, before: Interval, *, none_low: float = -math.inf) -> Interval:
    """Return an interval none of whose edges is later than that with fewer unreported failures.

    A missing upper edge or estimate is no limit; a missing lower one is `none_low`.
    """
    nones = (none_low, math.inf, math.inf)
    edges = []
    for name, none in zip(("low", "estimate", "high"), nones, strict=True):
        a, b = getattr(now, name), getattr(before, name)
        x = min(none if a is None else a, none if b is None else b)
        edges.append(x if math.isfinite(x) else None)
    return replace(now, low=edges[0], estimate=edges[1], high=edges[2])


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
) -> list[Reading]:
    """Return the three readings of a row of hours, rounded as advice is."""
    out = []
    for i, part in enumerate(("low", "estimate", "high")):
        column = np.array([v[i] for v in values])
        down = True if part == "low" else None
        rounded = np.array([x if math.isnan(x) else round_hours(x, down=down) for x in column])
        out.append(
            Reading(
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
