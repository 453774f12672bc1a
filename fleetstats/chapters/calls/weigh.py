"""What each call may do to the bound, and which calls do most together.

The chance of bad news is that of failing between the last reading and the hours expected today,
under the laws of life averaged for the forecast (`bands/averaged`). The bound after an answer is
that of the rule by which plans are judged (`advice/left_out.py`), asked of the fleet as it would
then stand. With p the chance of bad news under one law, B the bound with good news and r the ratio
by which a failure of that age raises it, a set of calls is expected to leave

    B mean over laws of product of (1 - p + p r).

B is worked out for each set that is tried; r on a grid of ages of the fleet today. Calls are chosen
one after another, each for the greatest expected change beside those chosen before it. Which are
tried first is told by the whole lives that the hours are worth at the least favourable shape, where
the bound goes as one over their sum (`advice/equivalents.py`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from fleetstats.advice.equivalents import life_equivalents
from fleetstats.advice.left_out import reliability_low_with_left_out
from fleetstats.advice.quoted import open_shapes
from fleetstats.bands.averaged.curves import LifeCurves
from fleetstats.chapters.ahead import draw_for_forecast
from fleetstats.chapters.calls.answers import answered, one_more_failure
from fleetstats.chapters.calls.whom import Askable
from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings

GRID = 9
"""Ages at which the effect of one failure more is worked out; between them it is interpolated."""

TRIED = 5
"""Calls worked out by the rule itself at each step of the choice; the others keep their place."""

TOGETHER = 512
"""Engines whose chances under all laws are averaged at once, some megabytes."""

PARTS = (1.0 / 6.0, 0.5, 5.0 / 6.0)
"""Shares of the unread hours at which a failure may lie: the middles of three equal parts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """The bound of the chance of failure by `hours`, as quoted: what `of` gives times `scale`.

    The rule for plans and the judged bound are one number, but where a band's own method is more
    careful than both; the scale keeps today's figure the one that the claim quotes.
    """

    settings: Settings
    hours: float
    confidence: float
    scale: float = 1.0

    def of(self, spells: Spells) -> float:
        """Return the upper bound of the chance of failure by the claimed hours."""
        low = reliability_low_with_left_out(spells, self.settings, self.hours, self.confidence)
        return min(self.scale * (1.0 - low), 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """A call in its place.

    `party` is its number among the parties; `change` what it alone is expected to change;
    `high_if_good` and `chance_bad` belong to it and all before it, None past those chosen together.
    """

    party: int
    change: float
    high_if_good: float | None = None
    chance_bad: float | None = None


class CallWeighing:
    """Parties that can be asked, each of one engine or several, before one rule.

    Parameters
    ----------
    spells : Spells
        The fleet today.
    asked : sequence of Askable
        Engines.
    parties : sequence of (k,) int
        The engines of each party, by their numbers.
    rule : Rule
        The bound.
    """

    def __init__(
        self, spells: Spells, asked: Sequence[Askable], parties: Sequence[Array], rule: Rule
    ) -> None:
        self.spells, self.asked, self.parties, self.rule = spells, asked, parties, rule
        self.from_h = np.array([x.from_h for x in asked])
        self.to_h = np.array([x.to_h for x in asked])
        self.known_failed = np.array([x.left_out is not None for x in asked])
        width = self.to_h - self.from_h
        self.laws = draw_for_forecast(spells, rule.settings, self.from_h, width)
        self.p = self.laws.conditional_failure(self.from_h, width)
        self.p_bad = np.where(self.known_failed, 0.0, self.p)
        self.now = rule.of(spells)
        self.ratio = self._ratios()
        self.each_bad = 1.0 - self._mean_of_each(lambda part: 1.0 - self.p_bad[:, part])
        self.good_h = np.where(self.known_failed, self._likely_ages(), self.to_h)

    def good(self, which: Array) -> Spells:
        """Return the fleet if these engines bring no bad news."""
        asked = [self.asked[i] for i in which]
        return answered(self.spells, asked, self.good_h[which], self.known_failed[which])

    def eased(self, which: Array) -> Array:
        """Return (B,) factors by which the chances of bad news raise the bound, law by law."""
        p = self.p_bad[:, which]
        return np.asarray(np.prod(1.0 - p + p * self.ratio[which], axis=1))

    def none_bad(self, which: Array) -> Array:
        """Return (B,) chances that none of these engines failed, law by law."""
        return np.asarray(np.prod(1.0 - self.p_bad[:, which], axis=1))

    def chance_bad(self, which: Array) -> float:
        """Return the chance that one or more of these engines failed."""
        return float(1.0 - self.none_bad(which).mean())

    def chance_bad_of(self, party: Array) -> float:
        """Return the same of the engines of one party, which is worked out for all parties."""
        return float(self.each_bad[party[0]]) if len(party) == 1 else self.chance_bad(party)

    def _mean_of_each(self, factor: Callable[[slice], Array]) -> Array:
        """Return (n,) means over the laws of a factor (B, m) of the engines of a slice."""
        n = len(self.asked)
        # laws side by side, so that each mean is summed as it would be alone
        parts = [
            np.ascontiguousarray(factor(slice(i, i + TOGETHER)).T).mean(axis=1)
            for i in range(0, n, TOGETHER)
        ]
        return np.concatenate(parts) if parts else np.zeros(0)

    def _ratios(self) -> Array:
        """Return (n,) by how much a failure of each engine would raise the bound, as a factor."""
        spread = self.from_h + np.multiply.outer(PARTS, self.to_h - self.from_h)
        ages = np.unique(np.quantile(spread, np.linspace(0.0, 1.0, GRID)))
        high = np.array([self.rule.of(one_more_failure(self.spells, a)) for a in ages])
        each = np.interp(spread, ages, high / self.now)
        return np.asarray(each.mean(axis=0))

    def _likely_ages(self) -> Array:
        """Return (n,) median hours of failures known to lie between `from_h` and `to_h`."""
        half = np.full((len(self.laws), len(self.from_h)), 0.5) * self.p
        some = self.laws.select(np.arange(min(len(self.laws), 100)))
        if not self.known_failed.any():
            return self.to_h
        further = some.further(self.from_h, -np.log1p(-half[: len(some)]))
        return np.asarray(np.minimum(self.from_h + np.median(further, axis=0), self.to_h))

    def _alone(self) -> Array:
        """Return (m,) expected changes of the bound by each party alone, near enough to order by.

        A known failure without hours is worked out by the rule.
        """
        rule, spells = self.rule, self.spells
        shape = open_shapes(spells, rule.settings).worst_shape(rule.hours)
        worth = max(float(life_equivalents(spells, (shape,), rule.hours)[0]), 1e-9)
        read = np.array([0.0 if x.at is None else spells.exit_upper[x.at] for x in self.asked])
        gain = (self.to_h / rule.hours) ** shape - (read / rule.hours) ** shape
        gain[self.known_failed] = 0.0
        hazard = -np.log1p(-min(self.now, 1.0 - 1e-12))
        p, ratio = self.p_bad, self.ratio
        each = self._mean_of_each(lambda i: 1.0 - p[:, i] + p[:, i] * ratio[i])
        out = np.empty(len(self.parties))
        for k, which in enumerate(self.parties):
            if self.known_failed[which].any():
                good = rule.of(self.good(which))
            else:
                more = max(worth + float(gain[which].sum()), 1e-9)
                good = -np.expm1(-hazard * worth / more)
            eased = each[which[0]] if len(which) == 1 else self.eased(which).mean()
            out[k] = good * float(eased) - self.now
        return out

    def choose(self, most: int) -> list[Chosen]:
        """Return all parties in order: the first `most` chosen together, the others by themselves.

        A party that was not tried in a step keeps what it was last found to change: further calls
        make each call count for less, so that it is tried before it can be passed over.
        """
        alone = self._alone()
        latest = alone.copy()
        # at the same change the party that is named first is tried first
        left = np.ones(len(self.parties), dtype=np.bool_)
        taken = np.zeros(0, dtype=np.int64)
        expected, out = self.now, []
        for _ in range(min(most, len(self.parties))):
            tried: dict[int, float] = {}
            while len(tried) < TRIED:
                k = int(np.argmax(np.where(left, np.abs(latest), -1.0)))
                if k in tried:
                    break
                both = np.concatenate([taken, self.parties[k]])
                tried[k] = self.rule.of(self.good(both))
                latest[k] = tried[k] * float(self.eased(both).mean()) - expected
                if not len(taken):
                    alone[k] = latest[k]
            best = max(tried, key=lambda j: (abs(latest[j]), -j))
            left[best] = False
            taken = np.concatenate([taken, self.parties[best]])
            expected += float(latest[best])
            out.append(
                Chosen(
                    party=best,
                    change=float(alone[best]),
                    high_if_good=tried[best],
                    chance_bad=self.chance_bad(taken),
                )
            )
        rest = np.flatnonzero(left)
        rest = rest[np.argsort(-np.abs(alone[rest]), kind="stable")]
        return out + [Chosen(party=j, change=float(alone[j])) for j in rest.tolist()]


def draw_bad_news(
    laws: LifeCurves, weighing: CallWeighing, which: Array, n: int, rng: np.random.Generator
) -> list[tuple[Array, Array]]:
    """Draw what engines tell, given that one or more of them failed unheard.

    A law comes up by its chance of bad news; the first engine to bring it by its own chance and
    that of good news from those before it; the others as they may.

    Parameters
    ----------
    laws : LifeCurves
        What the law of life may be.
    weighing : CallWeighing
        Chances and hours of the engines.
    which : (k,) int
        The engines asked, by their numbers.
    n : int
        Draws.
    rng : Generator
        Its own stream.

    Returns
    -------
    list of ((k,) float, (k,) bool)
        Hours told, and whether each failed at them.
    """
    p, known = weighing.p_bad[:, which], weighing.known_failed[which]
    bad = 1.0 - weighing.none_bad(which)
    rows = rng.choice(len(laws), size=n, p=bad / bad.sum())
    out = []
    for b in rows:
        before = np.concatenate([[1.0], np.cumprod(1.0 - p[b])[:-1]])
        first = int(rng.choice(len(which), p=p[b] * before / bad[b]))
        fails = rng.random(len(which)) < p[b]
        fails[:first], fails[first] = False, True
        out.append(_told(laws, weighing, which, b, fails | known, rng))
    return out


def _told(
    laws: LifeCurves,
    weighing: CallWeighing,
    which: Array,
    law: int,
    failed: Array,
    rng: np.random.Generator,
) -> tuple[Array, Array]:
    """Return hours told under one law, those of failures drawn within the hours not read."""
    u = rng.random(len(which)) * weighing.p[law, which]
    further = laws.select(np.array([law])).further(
        weighing.from_h[which], np.atleast_2d(-np.log1p(-np.minimum(u, 1.0 - 1e-12)))
    )[0]
    at = np.clip(
        weighing.from_h[which] + further,
        weighing.from_h[which] + 1e-6,
        weighing.to_h[which],
    )
    return np.where(failed, at, weighing.to_h[which]), failed
