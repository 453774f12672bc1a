"""Cautions on what is assumed, set or asserted: figures beside the limits that call for them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fleetstats.advice.advice import VERDICT_WORDS, Advice
from fleetstats.advice.doubts.prior_weight import assumed_shape
from fleetstats.advice.doubts.values import PriorWeight
from fleetstats.advice.doubts.words import say_bounds
from fleetstats.advice.judge import accepted_failure
from fleetstats.core.units import text_decided, text_percent
from fleetstats.core.value import Array
from fleetstats.records.rules import CAUSE_UNKNOWN
from fleetstats.spells import Spells
from fleetstats.spells.asserted import LivesTold
from fleetstats.spells.build import Built
from fleetstats.study.settings import Settings
from fleetstats.study.study_checks import read_factor
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import (
    LEAST_CLAIM_H,
    LEAST_CLAIM_SHARE,
    LEAST_CONFIDENCE,
    LEAST_MIN_AT_RISK,
    MOST_ACCEPTED,
    PRIOR_MOVED,
)
from fleetstats.vocabulary.wording import at_most, count, hours_exact, listed, stated

WORDS = ("supported", "contradicted")
"""Verdicts that a stated assumption can make, carry or hide."""


def caution_assumed_shape(settings: Settings, advice: Advice) -> list[Caution]:
    """Return what a stated prior or range of shapes does to the verdict, with the figures."""
    verdict = advice.verdict
    said = assumed_shape(settings)
    out = []
    if verdict is not None and verdict.refused == "estimate-outside":
        r = verdict.reliability
        edges = listed([text_percent(x) for x in (r.low, r.high) if x is not None], "to")
        out.append(
            caution(
                "prior-against-data/outside",
                value=f"estimate {text_percent(r.estimate)}",
                limit=f"band {edges}",
            )
        )
    if not said:
        return out
    weight = None if verdict is None else verdict.prior_weight
    if verdict is None or weight is None:
        return [*out, caution("prior-driven/stated", value=said, limit="the defaults", stated=said)]
    accepted = verdict.accepted_failure
    key, word = _weighed(weight, verdict.word, verdict.refused, accepted)
    return [
        *out,
        caution(
            key,
            value=say_bounds(weight, accepted),
            limit=stated(PRIOR_MOVED) if key.endswith(("refused", "moved")) else stated(accepted),
            stated=said,
            word=VERDICT_WORDS.get(word, ""),
        ),
    ]


def _weighed(w: PriorWeight, word: str, refused: str, accepted: float) -> tuple[str, str]:
    """Return the case of the caution on a stated assumption, and the word that it is about."""
    made = [x for x in WORDS if w.makes(x, accepted)]
    if refused == "prior-moved" and made:
        return "prior-against-data/refused", made[0]
    if w.low_alone > accepted and word != "contradicted":
        return "prior-against-data/hidden", "contradicted"
    if word in WORDS and w.carries(word, accepted):
        return "prior-against-data/carried", word
    if word in WORDS and w.moved(word) > PRIOR_MOVED:
        return "prior-against-data/moved", word
    return "prior-driven/stated", word


def caution_settings(
    spells: Spells, settings: Settings, built: Built | None = None, meters: Sequence[str] = ()
) -> list[Caution]:
    """Return settings so unusual that they bend the question, each with its figure.

    `meters` are those that rows name; without rows every meter of the settings may be in use.
    """
    seen = None if built is None or not (built.rows or built.told) else meters
    out = []
    confidence = settings.study.confidence
    if confidence < LEAST_CONFIDENCE:
        out.append(
            caution(
                "odd-setting/confidence",
                value=text_decided(confidence, LEAST_CONFIDENCE),
                limit=stated(LEAST_CONFIDENCE),
                in_hundred=f"{50.0 * (1.0 - confidence):.3g}",
                side=stated(0.5 * (1.0 + confidence)),
            )
        )
    out += _factors(seen, settings)
    out += _claim(spells, settings)
    least = settings.evidence.min_at_risk
    if least < LEAST_MIN_AT_RISK:
        out.append(
            caution(
                "odd-setting/at-risk",
                value=f"{least} at risk",
                limit=f"{LEAST_MIN_AT_RISK} at risk",
                n=least,
            )
        )
    return out + _unknown_cause(built)


def _factors(used: Sequence[str] | None, settings: Settings) -> list[Caution]:
    """Return the caution on factors without a range that turn hours in use, or could."""
    bare = []
    for meter, entry in settings.hours.factors.items():
        read = read_factor(entry)
        exact = read is not None and read[1] == read[2] != 1.0
        if read is not None and exact and (used is None or meter in used):
            bare.append((meter, read[0]))
    if not bare:
        return []
    return [
        caution(
            "odd-setting/factors",
            value=listed([f"{meter} × {f:g}" for meter, f in bare]),
            limit="a factor with its low and its high",
            meters=listed([meter for meter, _ in bare]),
        )
    ]


def _claim(spells: Spells, settings: Settings) -> list[Caution]:
    claim = settings.study.claimed_interval_h
    if claim is None:
        return []
    out = []
    median = weighted_median(spells.exit_upper, spells.weight)
    least = max(LEAST_CLAIM_H, LEAST_CLAIM_SHARE * median)
    if claim < least:
        out.append(
            caution(
                "odd-setting/claim",
                value=hours_exact(claim, least),
                limit=f"{least:,.4g} h (half of the lives reached {median:,.0f} h)",
                hours=f"{claim:,.4g} h",
            )
        )
    accepted = accepted_failure(settings)
    if accepted > MOST_ACCEPTED:
        out.append(
            caution(
                "odd-setting/accepted",
                value=text_decided(accepted, MOST_ACCEPTED),
                limit=stated(MOST_ACCEPTED),
                accepted=stated(accepted),
            )
        )
    return out


def weighted_median(x: Array, weight: Array) -> float:
    """Return the least of `x` (n,) at or below which half of the `weight` (n,) lies."""
    order = np.argsort(x, kind="stable")
    below = np.cumsum(weight[order])
    return float(x[order][np.searchsorted(below, 0.5 * below[-1])])


def _unknown_cause(built: Built | None) -> list[Caution]:
    n = 0 if built is None else sum(e.n for e in built.endings if e.reason == CAUSE_UNKNOWN)
    if not n:
        return []
    return [
        caution(
            "odd-setting/unknown-cause",
            value=count(n, "failure"),
            limit="0 failures",
            n=count(n, "failure"),
            is_are="is" if n == 1 else "are",
        )
    ]


def caution_carried(spells: Spells, advice: Advice) -> list[Caution]:
    """Return the caution that hours were assumed and not seen, with the bound without them."""
    assumed = spells.hours_assumed
    if assumed <= 0.0:
        return []
    verdict = advice.verdict
    beside = ""
    if verdict is not None and verdict.failure_high_as_read is not None:
        high = at_most(verdict.failure_high_as_read, verdict.accepted_failure)
        beside = f"; without them at most {high} by {verdict.claimed_h:,.0f} h"
    return [
        caution(
            "stale-hours/carried",
            value=f"{assumed:,.0f} of {spells.exposure_h:,.0f} h{beside}",
            limit="0 h",
            n=f"{assumed:,.0f}",
        )
    ]


def caution_as_stated(built: Built | None, of_lives: LivesTold) -> list[Caution]:
    """Return what rests on a typed word: engines built, starts of lives, checks."""
    if built is None:
        return []
    out = []
    f, told = built.funnel, built.asserted
    if f.n_built and not f.n_listed and not f.n_fate_unknown:
        out.append(
            caution("as-stated/built", value="a number of engines", limit=f"{f.n_built:,} serials")
        )
    if told is not None and told.n_from_start_unsaid:
        n, of = told.n_from_start_unsaid, count(told.n_from_start, "life", "lives")
        out.append(
            caution(
                "as-stated/from-start",
                value=f"{n:,} of {of}",
                limit="0 lives",
                n=count(n, "life", "lives"),
            )
        )
    if many := of_lives.n_rows_of_many:
        n = of_lives.n_of_many
        out.append(
            caution(
                "as-stated/counts",
                value=f"{n:,} engines in {count(many, 'row')}",
                limit="1 engine to a row",
                n=f"{n:,}",
                rows=count(many, "row"),
            )
        )
    if told is not None and told.unlooked:
        out.append(caution("as-stated/checks", value="no check", limit="1 check"))
    return out
