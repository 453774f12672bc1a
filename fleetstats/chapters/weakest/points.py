"""The rules of the weak points: each returns its point, or None where it does not apply."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable
from dataclasses import replace

from fleetstats.advice.doubts.rate_rose import RATE_ROSE
from fleetstats.advice.equivalents import poisson_allowance
from fleetstats.chapters.between_sources import BetweenSources
from fleetstats.chapters.change import Changed
from fleetstats.chapters.curve_fit import CurveFit
from fleetstats.chapters.groups import Pooled
from fleetstats.chapters.hidden import Hidden
from fleetstats.chapters.looks_made import LooksMade
from fleetstats.chapters.removals import Removals, aged_kinds
from fleetstats.chapters.since import SinceRuns
from fleetstats.chapters.unreported import Unreported
from fleetstats.chapters.weakest import words
from fleetstats.chapters.weakest.facts import Facts
from fleetstats.chapters.weakest.scale import log_hazard, with_factor
from fleetstats.chapters.weakest.values import WeakPoint

HALF_A_FAILURE = 0.5
"""Stands for no failure where a ratio of failures is taken: its logarithm must not be endless."""


def hidden_failures(f: Facts) -> WeakPoint | None:
    """Return the unreported failures that turn a supported claim.

    One of them takes one part of so many of the distance; where overlapping sources let more be
    estimated (the upper limit, if there is one), so many.
    """
    turn = f.verdict.hidden_to_turn
    if not f.shown or not turn:
        return None
    told = f.chapter("unreported", Unreported)
    likely = 0
    if told is not None and told.state == "answered":
        likely = math.ceil(told.estimate - 1e-9) if told.high is None else told.high
    return WeakPoint(
        key="hidden-failures",
        sentence=words.hidden_words(turn, likely),
        name="unreported failures that turn the claim",
        figure=float(turn),
        limit=float(max(likely, 1)),
        unit="failures",
        moved=max(likely, 1) / turn,
        decides=max(likely, 1) >= turn,
    )


def public_rate(f: Facts) -> WeakPoint | None:
    """Return the share of failures that a public rate lets be reported, beside that needed."""
    told = f.chapter("hidden", Hidden)
    if told is None or told.base_rate is None or told.base_rate.state != "far-fewer":
        return None
    allowed, needed = told.base_rate.share_high, told.reporting_share
    if f.against or not f.scale.known or allowed >= 1.0 or not needed:
        return None
    return WeakPoint(
        key="public-rate",
        sentence=words.rate_words(allowed, needed),
        name="share of failures reported, at most",
        figure=allowed,
        limit=min(needed, 1.0),
        unit="chance",
        moved=math.log(allowed) / math.log(needed)
        if needed < 1.0
        else f.scale.moved_by(-math.log(allowed)),
        decides=allowed < needed < 1.0,
    )


def carried(f: Facts) -> WeakPoint | None:
    """Return the source, build or engine without which the claim's word is another.

    Its move is that of the hours to which the target is shown, over those lacking or to spare at
    the claim; at least all of the distance, since the word turns. Where losing as many at random
    could do so too, it tells of how few there are and carries nothing.
    """
    pooled = f.chapter("pooling", Pooled)
    if pooled is None or not pooled.base.verdict:
        return None
    turning = [x for x in pooled.influence if x.turns and x.figure.verdict != pooled.base.verdict]
    found = []
    for x in turning:
        moved, life, without = 1.0, pooled.base.life_low_h, x.figure.life_low_h
        spare = 0.0 if not life else abs(math.log(f.verdict.claimed_h / life))
        if life and without and spare > 0.0:
            moved = max(1.0, abs(math.log(without / life)) / spare)
        found.append((not x.carries, -moved, x.kind, x.name, x))
    if not found:
        return None
    _, moved, _, _, x = min(found, key=lambda t: t[:4])
    return WeakPoint(
        key="carried",
        sentence=words.carried_words(x),
        name=f"engines of {x.kind} {x.name}" if x.kind != "engine" else "engines",
        figure=float(x.n_out),
        limit=0.0,
        unit="engines",
        moved=-moved,
        decides=x.carries,
        by_size=not x.carries,
    )


def another_source(f: Facts) -> WeakPoint | None:
    """Return the bound for an engine of a source like these, unless the sources are alike.

    Of a claim that is contradicted, the lower one.
    """
    told = f.chapter("between-sources", BetweenSources)
    if told is None or told.claim is None or told.verdict == "inside" or not f.scale.known:
        return None
    c, edge = told.claim, "least" if f.against else "most"
    bound = c.new_failure_low if f.against else c.new_failure_high
    if bound is None:
        return None
    return _bound(f, "another-source", f"fail, of another source, at {edge}", bound,
                  words.source_words(bound, f.verdict, least=f.against))  # fmt: skip


def aged_removals(f: Facts) -> WeakPoint | None:
    """Return the kind of removal that comes with age and would move the bound most as failures."""
    told = f.chapter("removals", Removals)
    if told is None or not f.scale.known or f.against:
        return None
    kinds = [k for k in aged_kinds(told) if k.failure_high_all is not None]
    if not kinds:
        return None
    k = max(kinds, key=lambda k: (k.failure_high_all or 0.0, k.kind))
    high = k.failure_high_all or 0.0
    return _bound(f, "aged-removals", "fail if these were failures, at most", high,
                  words.removal_words(k, f.verdict))  # fmt: skip


def left_out(f: Facts) -> WeakPoint | None:
    """Return the bound that counts the failures that stand in the records and in no life."""
    high = f.verdict.failure_high_with_left_out
    if high is None or not f.scale.known or f.against:
        return None
    kept = f.verdict.turned_by_left_out and not f.verdict.refused
    return _bound(f, "left-out", "fail with those left out, at most", high,
                  words.left_out_words(f.verdict, high), decides=kept)  # fmt: skip


def assumed_hours(f: Facts) -> WeakPoint | None:
    """Return the bound without the hours that nobody read."""
    high = f.verdict.failure_high_as_read
    if high is None or not f.scale.known or f.against:
        return None
    return _bound(f, "assumed-hours", "fail without hours nobody read, at most", high,
                  words.assumed_words(f.verdict, high))  # fmt: skip


def assumed_shape(f: Facts) -> WeakPoint | None:
    """Return the bound by the records alone, where an assumption on the shape helps the word."""
    told = f.verdict.prior_weight
    if told is None or not f.scale.known or f.open or told.moved(f.scale.word) <= 0.0:
        return None
    alone = told.low_alone if f.against else told.high_alone
    return _bound(f, "assumed-shape",
                  f"fail by the records alone, at {'least' if f.against else 'most'}", alone,
                  words.shape_words(f.verdict, alone, least=f.against))  # fmt: skip


def since_date(f: Facts) -> WeakPoint | None:
    """Return the bound since the rate rose; where no rise is shown, since the date that matters.

    The one decides where the verdict's word was refused for it (`advice/doubts/rate_rose.py`) or
    the bound crosses the accepted chance; the other tells of fewer hours and stands last.
    """
    changed, runs = f.chapter("change", Changed), f.chapter("since", SinceRuns)
    if not f.scale.known or f.against:
        return None
    since = None if changed is None else changed.since
    if since is not None and changed is not None and changed.leads and changed.leads.rose:
        return _bound(f, "since-date", "fail since the change, at most", since.failure_high,
                      words.rise_words(f.verdict, since.day, since.failure_high),
                      decides=f.verdict.refused == RATE_ROSE.code)  # fmt: skip
    later = [] if runs is None else [
        (f.scale.moved_to(a.failure_high), a.day, a.failure_high)
        for a in runs.answers
        if a.day is not None and a.failure_high is not None and a.verdict != f.verdict.word
    ]  # fmt: skip
    if not later:
        return None
    _, day, high = max(later)
    point = _bound(f, "since-date", f"fail counting from {day} on, at most", high,
                   words.since_words(f.verdict, day, high))  # fmt: skip
    return replace(point, decides=False, by_size=True)


def looks_made(f: Facts) -> WeakPoint | None:
    """Return the bound with the error held over all looks made, where each held it alone.

    The error is shared evenly over the looks (Bonferroni); the bound moves as that of a Poisson
    count does (Garwood 1936). Of a claim that is contradicted, the lower bound.
    """
    look, told = f.verdict.look, f.chapter("looks-made", LooksMade)
    if look is None:
        n = 1 + (0 if told is None else told.n_earlier)
    else:
        n = look.number if look.rule == "single" else 1
    if n < 2 or f.open or f.verdict.refused or not f.scale.known:
        return None
    if f.against and f.n_failed <= 0.0:
        return None
    bound_of = poisson_floor if f.against else _allowed
    factor = bound_of(f.n_failed, f.error / n) / bound_of(f.n_failed, f.error)
    bound = with_factor(f.scale.bound, factor)
    edge = "least" if f.against else "most"
    return _bound(f, "looks-made", f"fail with the error held over all looks, at {edge}", bound,
                  words.looks_words(f.verdict, n, bound, least=f.against))  # fmt: skip


def counted_failures(f: Facts) -> WeakPoint | None:
    """Return how many failures, were they none, leave a contradicted claim contradicted no more.

    The lower bound goes as that of a Poisson count (Garwood 1936). One of them takes one part of so
    many of the distance.
    """
    if not f.against or not f.scale.known or f.scale.within or f.n_failed < 1.0:
        return None
    full, most = poisson_floor(f.n_failed, f.error), math.floor(f.n_failed)

    def turned(k: int) -> bool:
        left = poisson_floor(f.n_failed - k, f.error) / full
        return with_factor(f.scale.bound, left) <= f.scale.accepted

    # the bound falls with every failure that was none
    k = 1 + bisect_left(range(1, most + 1), True, key=turned)
    if k > most:
        return None
    return WeakPoint(
        key="counted-failures",
        sentence=words.counted_words(k, f.n_failed, f.verdict),
        name="failures that, were they none, turn the claim",
        figure=float(k),
        limit=f.n_failed,
        unit="failures",
        moved=1.0 / k,
        decides=k == 1,
    )


def poisson_floor(n_failed: float, error: float) -> float:
    """Return the lower bound of a Poisson mean, one-sided, after `n_failed` events; 0 after none.

    ``chi-square_{error; 2 n_failed} / 2`` (Garwood 1936).
    """
    return poisson_allowance(n_failed - 1.0, error) if n_failed > 0.0 else 0.0


def _allowed(n_failed: float, error: float) -> float:
    return poisson_allowance(n_failed, 1.0 - error)


def curve(f: Facts) -> WeakPoint | None:
    """Return the ages up to the claim at which failures contradict the fitted curve most."""
    told = f.chapter("curve-fit", CurveFit)
    if told is None or not told.check.doubted or not f.scale.known:
        return None
    c = told.check
    found = []
    for low, high, seen, due in zip(c.low_h, c.high_h, c.n_failed, c.n_expected, strict=True):
        if due > 0.0:
            ratio = math.log(max(float(seen), HALF_A_FAILURE) / float(due))
            found.append((abs(ratio), -float(low), ratio, float(high), float(seen), float(due)))
    if not found:
        return None
    _, low, ratio, high, seen, due = max(found)
    return WeakPoint(
        key="curve",
        sentence=words.curve_words(-low, high, seen, due),
        name=f"failures from {-low:,.0f} to {high:,.0f} h",
        figure=seen,
        limit=due,
        unit="failures",
        moved=f.scale.moved_by(ratio),
        decides=f.scale.turned_at(with_factor(f.scale.bound, math.exp(ratio))),
    )


def estimate_above(f: Facts) -> WeakPoint | None:
    """Return the estimate that exceeds the accepted chance: more running goes towards it.

    Its move is what running leaves: from the accepted chance to the estimate.
    """
    v = f.verdict
    if not f.open or v.reliability.estimate is None or not f.scale.known:
        return None
    estimate = 1.0 - v.reliability.estimate
    if estimate <= v.accepted_failure:
        return None
    return WeakPoint(
        key="estimate-above",
        sentence=words.estimate_words(v, estimate),
        name="fail, estimated",
        figure=estimate,
        limit=v.accepted_failure,
        unit="chance",
        moved=abs(f.scale.moved_by(log_hazard(estimate) - log_hazard(v.accepted_failure))),
        decides=True,
    )


def too_little(f: Facts) -> WeakPoint | None:
    """Return the bound of an open claim whose estimate does not exceed the accepted chance.

    What keeps it open is then how little was run: all of the distance.
    """
    v = f.verdict
    if not f.open or f.scale.within or not f.scale.known:
        return None
    estimate = None if v.reliability.estimate is None else 1.0 - v.reliability.estimate
    if estimate is not None and estimate > v.accepted_failure:
        return None
    return WeakPoint(
        key="too-little",
        sentence=words.little_words(v, f.scale.bound, estimate),
        name="fail, at most",
        figure=f.scale.bound,
        limit=v.accepted_failure,
        unit="chance",
        moved=1.0,
        decides=True,
    )


def reach(f: Facts) -> WeakPoint | None:
    """Return the end of the evidence, where the claim lies past it: nothing is shown there."""
    v = f.verdict
    if not v.extrapolated or not f.open:
        return None
    return WeakPoint(
        key="reach",
        sentence=words.reach_words(v, f.horizon),
        name="hours to which enough were at risk",
        figure=f.horizon.supported_h,
        limit=v.claimed_h,
        unit="hours",
        moved=1.0,
        decides=True,
    )


def _bound(
    f: Facts, key: str, name: str, chance: float, sentence: str, *, decides: bool = False
) -> WeakPoint:
    """Return a point that puts another bound in the place of that quoted."""
    return WeakPoint(
        key=key,
        sentence=sentence,
        name=name,
        figure=chance,
        limit=f.scale.accepted,
        unit="chance",
        moved=f.scale.moved_to(chance),
        decides=decides or f.scale.turned_at(chance),
    )


RULES: tuple[Callable[[Facts], WeakPoint | None], ...] = (
    reach, estimate_above, too_little, counted_failures, public_rate, hidden_failures, carried,
    another_source, aged_removals, left_out, assumed_hours, assumed_shape, since_date, looks_made,
    curve,
)  # fmt: skip
"""Every rule; the order decides between points that are equal in all else."""
