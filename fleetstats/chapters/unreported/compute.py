"""How many failures nobody reported: from returns that tell of the same engines independently."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import numpy as np

from fleetstats.advice.judge import accepted_failure, is_supported
from fleetstats.advice.looks.at_look import at_look
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.tipping import MOST_HIDDEN, PLACINGS, count_hidden, suppose_hidden
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.unreported.lists import Lists, ToldFailure, list_failures
from fleetstats.chapters.unreported.values import Overlap, Unreported
from fleetstats.chapters.unreported.words import unreported_cautions, unreported_sentence
from fleetstats.records.reading import Records
from fleetstats.spells.build import Built
from fleetstats.study.settings import Settings
from fleetstats.survival.counting.capture import Unseen, count_patterns, estimate_unseen, models_of
from fleetstats.survival.fit import Fit

ODDS_RATIOS = (0.5, 1.0, 2.0, 4.0, 8.0)
"""How much the odds that one source tells may change where the other does."""

ALIKE_AICC = 2.0
"""A model of dependence is quoted where its criterion is better by more than this (Burnham &
Anderson 2002, from memory): less is no reason to leave independence."""


def estimate_unreported(
    records: Records, built: Built, fit: Fit | None, settings: Settings
) -> Unreported | None:
    """Return how many failures nobody told; None where no two sources could have told any.

    Parameters
    ----------
    records : Records
        As read, with the merging.
    built : Built
        Lives at risk; its failures in question are those that are counted.
    fit : Fit or None
        Weibull fit of them, for what the estimate would do to the claim.
    settings : Settings
        Confidence, claim, sources of one population.

    Notes
    -----
    Engines are parted by the sources that cover them, and each part is estimated by itself: two
    clubs that tell differently would make the overlap of both together look too good. Limits of
    the sum are sums of limits held over the parts (Bonferroni).
    """
    if records.merged is None:
        return None
    lists = list_failures(records, built, settings)
    if not lists.failures:
        return None
    level = settings.study.confidence
    by_cover: dict[tuple[str, ...], list[ToldFailure]] = {}
    for f in lists.failures:
        by_cover.setdefault(f.could, []).append(f)
    held = 1.0 - (1.0 - level) / len(by_cover)
    overlaps = tuple(_overlap(c, fs, lists, held) for c, fs in sorted(by_cover.items()))
    quoted = [o.quoted for o in overlaps if o.quoted is not None]
    highs = [q.high for q in quoted if q.high is not None]
    claim = settings.study.claimed_interval_h
    out = Unreported(
        state="answered" if quoted else "not-enough-evidence",
        sentence="",
        overlaps=overlaps,
        stated=settings.merge.same_population,
        n_failed=round(built.spells.n_failed),
        n_alone=lists.n_alone,
        estimate=sum(q.estimate or 0.0 for q in quoted),
        low=sum(q.low or 0 for q in quoted) if quoted else None,
        high=sum(highs) if quoted and len(highs) == len(quoted) else None,
        level=level,
        claimed_h=claim,
        accepted_failure=accepted_failure(settings),
        to_turn=None,
        failure_high=None,
        failure_high_with=None,
    )
    if claim is not None and quoted:
        out = _beside_claim(out, built, fit, settings, claim)
    out = replace(out, sentence=unreported_sentence(out))
    return replace(out, cautions=unreported_cautions(out))


def _overlap(
    cover: tuple[str, ...], failures: list[ToldFailure], lists: Lists, level: float
) -> Overlap:
    patterns = Counter(tuple(s in f.told for s in cover) for f in failures)
    told = np.array([[s in f.told for s in cover] for f in failures], dtype=bool)
    table = count_patterns(told)
    models = tuple(estimate_unseen(table, m, level=level) for m in models_of(len(cover)))
    dependent: tuple[Unseen, ...] = ()
    if len(cover) == 2 and models[0].estimate is not None:
        (alone,) = models_of(2)
        dependent = tuple(
            estimate_unseen(table, alone, level=level, odds_ratio=r) for r in ODDS_RATIOS
        )
    return Overlap(
        sources=cover,
        n_engines=lists.engines.get(cover, 0),
        patterns=tuple(sorted(patterns.items(), reverse=True)),
        n_undated=sum(not f.dated for f in failures),
        models=models,
        best=_best(models),
        dependent=dependent,
    )


def _best(models: tuple[Unseen, ...]) -> int | None:
    """Return the model that is quoted: the independent one, unless another fits clearly better."""
    known = [i for i, m in enumerate(models) if m.estimate is not None]
    if not known:
        return None
    first = models[known[0]].aicc
    rated = [(a, i) for i in known if (a := models[i].aicc) is not None]
    if first is None or not rated or min(rated)[0] >= first - ALIKE_AICC:
        return known[0]
    return min(rated)[1]


def _beside_claim(
    out: Unreported, built: Built, fit: Fit | None, settings: Settings, claim: float
) -> Unreported:
    """Set the estimate beside the number that would turn the claim, and into its bound."""
    target = 1.0 - out.accepted_failure
    lives = at_look(Quoter.of(built.spells, fit, settings), target)
    to_turn = None
    if is_supported(lives, claim, target):
        tipping = count_hidden(
            built.spells, fit, settings, hours=claim, accepted=out.accepted_failure
        )
        to_turn = tipping.least
    what = Quantity.reliability(claim)
    more = math.ceil(out.estimate - 1e-9)
    as_is = lives.interval(what).low or 0.0
    low = as_is
    if 0 < more <= MOST_HIDDEN:
        low = min(suppose_hidden(lives, more, claim, p).interval(what).low or 0.0 for p in PLACINGS)
    known = more <= MOST_HIDDEN
    return replace(
        out,
        to_turn=to_turn,
        failure_high=1.0 - as_is,
        failure_high_with=1.0 - min(low, as_is) if known else None,
    )
