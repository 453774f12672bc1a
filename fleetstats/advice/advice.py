"""What the records advise: five answers side by side, one overhaul band, one verdict.

Every answer has a `state`. ``"answered"`` means that its intervals may be read; any other word says
why the data cannot answer, and the sentence says what would.
"""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

import numpy as np

from fleetstats.advice.doubts.values import PriorWeight
from fleetstats.advice.looks.look import ThisLook
from fleetstats.bands.interval import Interval
from fleetstats.core.value import Floats, Value, value
from fleetstats.vocabulary.caution import Caution, with_notice
from fleetstats.vocabulary.provisos import but_open
from fleetstats.vocabulary.wording import heads

if TYPE_CHECKING:
    import pandas as pd

VERDICTS = {
    "supported": "supported at the chosen confidence",
    "not-yet-shown": "not yet shown",
    "contradicted": "contradicted by the records",
    "hours-do-not-tell": "hours do not tell",
}
"""The four words that a verdict on a claimed interval may have, and how they are read."""

VERDICT_WORDS = VERDICTS | {"supported": "supported", "contradicted": "contradicted"}
"""The same, short, for a cell of a table."""


def say_word(word: str, *, extrapolated: bool = False, provisos: tuple[str, ...] = ()) -> str:
    """Return a verdict's word for a cell of a table, with why where the claim is past evidence.

    A supported claim says how many `provisos` are open.
    """
    past = extrapolated and word == "not-yet-shown"
    open_ = but_open(provisos) if word == "supported" else ""
    return VERDICT_WORDS[word] + (", past the evidence" if past else "") + open_


@value
class ShapeLine(Value):
    """One row of an answer over assumed shapes.

    `low_h` are hours that hold at one-sided confidence if the shape is as assumed; None where no
    bound exists. `least_favourable` marks the earliest of the rows.
    """

    shape: float
    low_h: float | None
    least_favourable: bool = False


@value
class WearOut(Value):
    """Answer (a): is there wear-out at all?

    Parameters
    ----------
    state : str
        ``"wear-out"`` (the whole band of the shape lies above 1), ``"not-shown"`` (it holds 1),
        ``"no-wear-out"`` (it lies below 1) or ``"not-enough-evidence"`` (no shape can be fitted).
    shape : Interval or None
        Estimate and band of the Weibull shape.
    statistic, p_value : float or None
        Likelihood-ratio test of shape = 1 against any shape; chi-square with 1 degree of freedom.
    failures_needed : int or None
        About how many failures would show wear-out if the estimated shape (with no estimate: a
        shape of 2) is the true one.
    settle : str
        What data would settle the question; empty when it is settled.
    """

    state: str
    sentence: str
    shape: Interval | None = None
    statistic: float | None = None
    p_value: float | None = None
    failures_needed: int | None = None
    settle: str = ""


@value
class TargetAge(Value):
    """Hours at which the chance of failing before the next check first exceeds `target`.

    `age.low` is the pessimistic edge (from the upper band of the chance), `age.high` the
    optimistic one. None means: not reached within the ages that were searched. `extrapolated`
    says for pessimistic edge, estimate and optimistic edge whether it lies beyond the horizon.
    """

    target: float
    age: Interval
    extrapolated: tuple[bool, bool, bool]


@value
class RiskAnswer(Value):
    """Answer (b): risk over the next check interval.

    `state` is ``"answered"``, ``"no-target"`` (the study states none: `table` stands in its place
    and `chosen` is None), ``"hours-do-not-tell"`` (the chance does not rise with hours) or
    ``"not-enough-evidence"``.
    `searched_to_h` bounds the search for the age. `at_claim` is the chance at the claimed hours.
    """

    state: str
    sentence: str
    width_h: float
    target: float | None = None
    chosen: TargetAge | None = None
    table: tuple[TargetAge, ...] = ()
    over_shapes: tuple[ShapeLine, ...] = ()
    at_claim: Interval | None = None
    searched_to_h: float = 0.0


@value
class ReliabilityAnswer(Value):
    """Answer (c): hours that the target share of engines should reach.

    `life` is the B-life for `target` (0.90 asks for B10); `extrapolated` as in `TargetAge`.
    `over_shapes` gives its lower bound for assumed shapes.
    """

    state: str
    sentence: str
    target: float
    life: Interval | None = None
    extrapolated: tuple[bool, bool, bool] = (False, False, False)
    over_shapes: tuple[ShapeLine, ...] = ()


@value
class CostAnswer(Value):
    """Answer (d): the cheapest age for planned overhaul.

    Parameters
    ----------
    state : str
        ``"answered"``, ``"no-cost-ratio"``, ``"too-few-failures"`` (under 5),
        ``"shape-reaches-one"`` or ``"no-finite-optimum"``.
    ratio : float or None
        Cost of a failure over that of a planned overhaul.
    optimum : Interval or None
        Hours; edges from resampling.
    flat_low_h, flat_high_h : float or None
        Hours within which the cost stays within 5 % of the least; `flat_high_h` is None when
        running to failure costs less than 5 % more.
    share_without : float or None
        Share of resamples that have no finite optimum.
    failure_at_optimum : Interval or None
        Chance of the failure before the optimum: cheapest is not safest.
    saving : float or None
        Share of the cost of running to failure that the optimum saves.
    hours, cost, cost_low, cost_high : (m,) float
        Cost per 1,000 h against overhaul age, in units of `currency` (planned overhauls if blank).
    regret_hours, regret : (k,) float
        Mean over resamples of the extra cost share, if that age were chosen.
    least_regret_h : float or None
        The age with the least mean regret.
    extrapolated : bool
        The optimum lies beyond the evidence horizon.
    """

    state: str
    sentence: str
    ratio: float | None = None
    currency: str = ""
    optimum: Interval | None = None
    flat_low_h: float | None = None
    flat_high_h: float | None = None
    share_without: float | None = None
    failure_at_optimum: Interval | None = None
    saving: float | None = None
    hours: Floats = field(default_factory=lambda: np.zeros(0))
    cost: Floats = field(default_factory=lambda: np.zeros(0))
    cost_low: Floats = field(default_factory=lambda: np.zeros(0))
    cost_high: Floats = field(default_factory=lambda: np.zeros(0))
    regret_hours: Floats = field(default_factory=lambda: np.zeros(0))
    regret: Floats = field(default_factory=lambda: np.zeros(0))
    least_regret_h: float | None = None
    extrapolated: bool = False


@value
class Horizon(Value):
    """Answer (e): where the evidence ends.

    `supported_h` are the greatest hours with at least `min_at_risk` lives at risk; beyond them all
    is extrapolation. `counts` pairs a number of lives with the greatest hours at which so many were
    at risk. `exposure_past_h` and `n_past` (lives) say what was seen beyond `supported_h`.
    `counts_engines`: each engine has one life, so that lives are engines.
    """

    sentence: str
    min_at_risk: int
    counts_engines: bool = True
    supported_h: float
    oldest_h: float
    counts: tuple[tuple[int, float], ...]
    n_past: float
    exposure_past_h: float

    @property
    def enough(self) -> str:
        """Return how many must be at risk, with what is counted: "10 engines" or "10 lives"."""
        return heads(self.min_at_risk, engines=self.counts_engines)


@value
class Edge(Value):
    """One of the three hours of the overhaul band.

    `hours` is rounded to 50 h and never beyond the evidence; None when the data give none.
    `unrounded_h` is what the governing answer said before it was held to the evidence.
    `governed_by` names that answer; `held_by_evidence` says that the horizon, not the answer, set
    the hours.
    """

    hours: float | None
    unrounded_h: float | None
    governed_by: str
    held_by_evidence: bool = False


@value
class OverhaulBand(Value):
    """One band from the five answers, by the rule of `advice/overhaul_band.py`.

    `state` is ``"answered"`` (wear-out is shown), ``"evidence-limit"`` (wear-out is not shown: the
    hours say how far the records carry), ``"target-not-shown"`` (the accepted chance between checks
    is shown at no age: no plan-from), ``"hours-do-not-tell"`` (the risk does not rise with hours)
    or ``"not-enough-evidence"``; `counted` which failures it counts; `else_to_h` how far others go.
    """

    state: str
    sentence: str
    plan_from: Edge
    expect_at: Edge
    not_beyond: Edge
    counted: str = ""
    else_to_h: float | None = None


@value
class Verdict(Value):
    """Verdict on the interval claimed today.

    Parameters
    ----------
    word, because : str
        A key of `VERDICTS`, and which line of the rule decided.
    claimed_h : float
        Hours claimed.
    accepted_failure : float
        Accepted chance of the failure by those hours.
    reliability : Interval
        Chance of reaching the claimed hours without the failure.
    exposure_past_h, n_reached, n_engines_reached : float
        Engine hours seen past the claim; lives at risk at the claim, and the engines whose they
        are.
    hidden_to_turn : int or None
        Least number of unreported failures that would turn a supported claim (worst placing).
        None: not supported in the first place, or more than were tried.
    extrapolated : bool
        The claim lies beyond the evidence horizon; it then cannot be called supported, and is
        called contradicted only where the records contradict it at that horizon already.
    provisos : tuple of str
        What is open about the claim, as clauses; the sentence of a supported one holds them.
    with_left_out : Interval or None
        Lower edge of `reliability` with the failures of the records that no spell counts, at their
        least favourable ages; None where all count. A supported claim needs both edges.
    n_left_out, left_out : int, str
        How many those are, and the same as a clause: "5 further failures have no hours".
    refused : str
        Code of the doubt for which a word of the bounds was refused; blank where none was.
    prior_weight : PriorWeight or None
        What a stated assumption on the shape does to the bound; None where none is stated.
    assumed_h : float
        Hours at risk that nobody read, carried to the analysis date.
    failure_high_as_read : float or None
        Upper bound of failure by the claimed hours without them; None where there are none.
    look : ThisLook or None
        Which look at the records this is; None for one alone.
    """

    word: str
    sentence: str
    claimed_h: float
    accepted_failure: float
    reliability: Interval
    exposure_past_h: float
    n_reached: float
    hidden_to_turn: int | None
    extrapolated: bool
    because: str
    n_engines_reached: float | None = None
    provisos: tuple[str, ...] = ()
    with_left_out: Interval | None = None
    n_left_out: int = 0
    left_out: str = ""

    @property
    def failure_high_with_left_out(self) -> float | None:
        """Return the upper bound of the failure chance with failures left out; None without any."""
        return None if self.with_left_out is None else 1.0 - (self.with_left_out.low or 0.0)

    @property
    def turned_by_left_out(self) -> bool:
        """Return whether the claim would be supported but for the failures left out."""
        low = self.reliability.low
        reached = low is not None and low >= 1.0 - self.accepted_failure and not self.extrapolated
        return reached and self.word == "not-yet-shown"

    refused: str = ""
    prior_weight: PriorWeight | None = None
    assumed_h: float = 0.0
    failure_high_as_read: float | None = None
    look: ThisLook | None = None

    @property
    def reading(self) -> str:
        """Return the verdict as words for a reader."""
        return VERDICTS[self.word] + self.open_matters

    @property
    def open_matters(self) -> str:
        """Return how many matters are open about a supported claim, to follow its word."""
        return but_open(self.provisos) if self.word == "supported" else ""


@value
class Advice(Value):
    """Five answers, one overhaul band, one verdict (None when no interval is claimed).

    `n_mended` is the number of failures behind the answers in hours where overhaul does not renew
    every cause, and None where it does; the verdict counts all `n_failed`.
    """

    level: float
    method: str
    n_failed: float
    wear_out: WearOut
    risk: RiskAnswer
    reliability: ReliabilityAnswer
    cost: CostAnswer
    horizon: Horizon
    overhaul_band: OverhaulBand
    verdict: Verdict | None
    cautions: tuple[Caution, ...] = ()
    n_mended: float | None = None

    def to_frame(self) -> pd.DataFrame:
        """Return the answers, a row each: hours but for shape and, at the claim, reliability."""
        import pandas as pd

        def row(answer: str, state: str, x: Interval | None, unit: str) -> dict[str, object]:
            edges = (None, None, None) if x is None else (x.low, x.estimate, x.high)
            return {
                "answer": answer,
                "state": state,
                **dict(zip(("low", "estimate", "high"), edges, strict=True)),
                "unit": unit,
            }

        b, chosen = self.overhaul_band, self.risk.chosen
        rows = [
            row("wear-out (shape)", self.wear_out.state, self.wear_out.shape, ""),
            row("risk", self.risk.state, None if chosen is None else chosen.age, "h"),
            row("reliability", self.reliability.state, self.reliability.life, "h"),
            row("cost", self.cost.state, self.cost.optimum, "h"),
            row("evidence horizon", "answered", None, "h") | {"estimate": self.horizon.supported_h},
            row("overhaul band", b.state, None, "h")
            | {
                "low": b.plan_from.hours,
                "estimate": b.expect_at.hours,
                "high": b.not_beyond.hours,
            },
        ]
        if (v := self.verdict) is not None:
            rows.append(row(f"verdict on {v.claimed_h:g} h", v.word, v.reliability, "probability"))
        return pd.DataFrame(rows)

    def __repr__(self) -> str:
        lines = [self.wear_out.sentence, self.risk.sentence, self.reliability.sentence]
        lines += [self.cost.sentence, self.horizon.sentence, self.overhaul_band.sentence]
        if self.verdict is not None:
            lines.append(self.verdict.sentence)
        return "\n".join(lines)

    def __str__(self) -> str:
        """Return the answers, and what limits their use."""
        return with_notice(repr(self), self.cautions)
