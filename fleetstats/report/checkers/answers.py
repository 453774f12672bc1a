"""The figures of a report that a short script can work out again from the table of all lives.

Each goes into ``check/answers.csv`` with all its digits and the rule by which the scripts beside it
come to it. Figures that are quoted by a rule too long for such a script are listed as not checked.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator
from importlib.resources import files
from itertools import chain

import numpy as np

from fleetstats.advice.equivalents import exposure_past
from fleetstats.advice.quoted import Quoter, no_best_shape
from fleetstats.advice.results import Results
from fleetstats.bands.interval import Interval
from fleetstats.bands.likelihood.profile import band_quantity
from fleetstats.bands.likelihood.surface import Surface
from fleetstats.bands.method import shape_prior
from fleetstats.bands.open.lattice import shapes_tried
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.claim import Claim
from fleetstats.core.errors import FitError
from fleetstats.core.value import Value, value
from fleetstats.spells import Event
from fleetstats.vocabulary.limits import LEAST_AT_RISK

FOLDER = "check"
ANSWERS = f"{FOLDER}/answers.csv"
SCRIPTS = ("check.py", "check.R")
COLUMNS = ("key", "label", "value", "rule")

GIVEN, NOT_CHECKED = "given", "not-checked"
COUNT, PRODUCT_LIMIT, WEIBULL, PROFILE = "count", "product-limit", "weibull", "profile"
ASSUMED, COUNTED, OPEN = "assumed-shape", "engines-counted", "open-shapes"

QUARTERS = (0.25, 0.5, 0.75, 1.0)
"""Shares of the evidence horizon at which the product limit is compared, besides the claim."""

STEP_H = 10.0
"""Hours to whose multiples those ages are brought down."""


@value
class Answer(Value):
    """One figure: `key` names it to the scripts, `rule` says how they come to it.

    `amount` is None where the report says that the records set none (a limit), and with the rule
    `NOT_CHECKED` where the label says why.
    """

    key: str
    label: str
    amount: float | None
    rule: str


def check_files(results: Value | None) -> dict[str, bytes]:
    """Return the checkers and their figures: path within the report = bytes.

    None for a report that rests on no lives of one study, or on a table read by chunks, whose lives
    are not listed one by one.
    """
    if not isinstance(results, Results) or results.how_read.by_chunks:
        return {}
    scripts = files(__package__)
    out = {f"{FOLDER}/{name}": scripts.joinpath(name).read_bytes() for name in SCRIPTS}
    return out | {ANSWERS: answers_csv(answers_of(results)).encode()}


def answers_csv(answers: tuple[Answer, ...]) -> str:
    """Return the figures as CSV with every digit; a figure that is None is blank."""
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\n")
    write.writerow(COLUMNS)
    for a in answers:
        write.writerow((a.key, a.label, "" if a.amount is None else repr(float(a.amount)), a.rule))
    return out.getvalue()


def answers_of(results: Results) -> tuple[Answer, ...]:
    """Return the figures of one study, with what was given to reach them."""
    claim = results.chapters.get("claim")
    told = claim if isinstance(claim, Claim) else None
    if not len(results.spells):
        return tuple(_given(results, None))
    lives = Quoter.of(results.spells, results.fit, results.settings)
    return tuple(
        chain(
            _given(results, told),
            _counts(results, told),
            _curve(results, told),
            _fitted(results),
            () if told is None else _claimed(told),
            _open(results, lives),
            _quoted(results, lives),
        )
    )


def _given(results: Results, claim: Claim | None) -> Iterator[Answer]:
    keys = results.settings.evidence
    for key, label, x in (
        ("two_sided", "confidence of a pair of limits", results.settings.study.confidence),
        ("least_at_risk", "lives at risk where the evidence ends", float(keys.min_at_risk)),
        ("start_at_risk", "lives at risk where the counted curve starts", float(LEAST_AT_RISK)),
        ("life_share", "share of engines to reach the life", results.settings.targets.reliability),
        ("shape_from", "least shape of the stated range", min(keys.shapes)),
        ("shape_to", "greatest shape of the stated range", max(keys.shapes)),
    ):
        yield Answer(key=key, label=label, amount=x, rule=GIVEN)
    if claim is not None:
        yield Answer(key="claimed_h", label="claimed hours", amount=claim.hours, rule=GIVEN)
        yield Answer(
            key="one_sided", label="confidence of one bound", amount=claim.confidence, rule=GIVEN
        )


def _counts(results: Results, claim: Claim | None) -> Iterator[Answer]:
    s = results.spells
    horizon = results.advice.horizon.supported_h
    rows = [
        ("lives", "lives", float(s.weight.sum())),
        ("failures", "failures in question", s.n_failed),
        (
            "failures_between",
            "of them known only between two checks",
            float(s.weight[s.interval_known].sum()),
        ),
        ("competing", "other failures", float(s.weight[s.event == Event.COMPETING].sum())),
        ("hours", "engine hours", s.exposure_h),
        ("oldest_h", "oldest age in hours", s.oldest_h),
        ("horizon_h", "hours where the evidence ends", horizon),
    ]
    if s.engines_known:
        rows.insert(0, ("engines", "engines", s.n_engines))
    if claim is not None:
        rows += [
            ("reached", "lives at risk at the claimed hours", claim.n_reached),
            ("hours_past", "engine hours past the claim", exposure_past(s, claim.hours)),
        ]
    for key, label, x in rows:
        yield Answer(key=key, label=label, amount=x, rule=COUNT)


def _curve(results: Results, claim: Claim | None) -> Iterator[Answer]:
    """Yield the product limit at the claim and on the way to the horizon."""
    curve, hazard = results.description.product_limit, results.description.cumulative_hazard
    told = "product limit"
    start = "age at which the counted curve starts"
    yield Answer(key="start_h", label=start, amount=curve.start_h, rule=PRODUCT_LIMIT)
    horizon = results.advice.horizon.supported_h
    ages = {STEP_H * math.floor(q * horizon / STEP_H) for q in QUARTERS} - {0.0}
    for t in sorted(ages | (set() if claim is None else {claim.hours})):
        share = float(curve.at(t))
        if math.isnan(share):
            continue
        yield Answer(
            key=f"product_limit@{t!r}", label=f"{told}, {t:g} h", amount=share, rule=PRODUCT_LIMIT
        )
        yield Answer(
            key=f"cumulative_hazard@{t!r}",
            label=f"cumulative hazard by counting, {t:g} h",
            amount=float(hazard.at(t)),
            rule=PRODUCT_LIMIT,
        )


def _fitted(results: Results) -> Iterator[Answer]:
    fit, share = results.fit, results.settings.targets.reliability
    life = f"hours that {share:.6g} of engines reach, Weibull"
    if fit is None:
        why = f"Weibull fit and its limits: there is none. {results.no_fit.removesuffix('.')}"
        yield Answer(key="no_fit", label=why, amount=None, rule=NOT_CHECKED)
        return
    for key, label, best in (
        ("shape", "Weibull shape, maximum likelihood", fit.shape),
        ("scale_h", "Weibull scale in hours", fit.scale_h),
        ("log_likelihood", "log likelihood at the maximum", fit.log_likelihood),
        ("life_h", life, float(fit.quantile(1.0 - share))),
    ):
        yield Answer(key=key, label=label, amount=best, rule=WEIBULL)
    level = results.settings.study.confidence
    for key, label, what in (
        ("shape", "Weibull shape", Quantity.shape()),
        ("scale_h", "Weibull scale in hours", Quantity.scale()),
        ("life_h", life, Quantity.life(1.0 - share)),
    ):
        try:
            limits = band_quantity(fit, what, level=level)
        except FitError as error:  # a fit may lie beyond the shapes that bands look at
            why = f"limits of the Weibull fit: there are none. {error.message.removesuffix('.')}"
            yield Answer(key="no_limits", label=why, amount=None, rule=NOT_CHECKED)
            return
        for side, x in (("low", limits.low), ("high", limits.high)):
            yield Answer(
                key=f"{key}.{side}", label=f"{label}, {side} profile limit", amount=x, rule=PROFILE
            )


def _claimed(claim: Claim) -> Iterator[Answer]:
    by = f"failure by {claim.hours:g} h at most"
    for row in claim.rows:
        yield Answer(
            key=f"equivalents@{row.shape!r}",
            label=f"whole lives to the claim, shape {row.shape:g}",
            amount=row.equivalents,
            rule=ASSUMED,
        )
        yield Answer(
            key=f"failure_high@{row.shape!r}",
            label=f"{by}, shape {row.shape:g} assumed",
            amount=row.failure_high,
            rule=ASSUMED,
        )
    yield Answer(
        key="failure_high_any",
        label=f"{by}, worst of these shapes and between",
        amount=claim.worst.failure_high,
        rule=ASSUMED,
    )
    if claim.no_shape is not None:
        n, high = claim.no_shape
        label = "lives that settle the claim: passed it or failed by it"
        yield Answer(key="settled", label=label, amount=n, rule=COUNTED)
        yield Answer(
            key="failure_high_counted",
            label=f"{by}, no shape assumed",
            amount=high,
            rule=COUNTED,
        )


def _shapes_apply(results: Results) -> str:
    """Return why the bound over the shapes left open is not for a short script; blank if it is."""
    if shape_prior(results.settings.evidence).stated:
        return "a prior on the shape is stated"
    if no_best_shape(results.spells):
        return "all failures may lie at one age, so engines are counted"
    return ""


def _open(results: Results, lives: Quoter) -> Iterator[Answer]:
    if _shapes_apply(results):
        return
    surface = Surface.of_spells(results.spells)
    low, high, count = shapes_tried(surface, float(results.spells.weight.sum()))
    for key, label, x in (
        ("tried_from", "least log shape tried", low),
        ("tried_to", "greatest log shape tried", high),
        ("tried", "shapes tried between, evenly in their logs", float(count)),
    ):
        yield Answer(key=key, label=label, amount=x, rule=GIVEN)
    verdict = results.advice.verdict
    if verdict is None or verdict.look is not None:
        return
    yield Answer(
        key="failure_high_open",
        label=f"failure by {verdict.claimed_h:g} h at most, over all shapes left open",
        amount=_open_high(lives, verdict.claimed_h),
        rule=OPEN,
    )


def _open_high(lives: Quoter, hours: float) -> float:
    return float(-np.expm1(-np.exp(lives.shapes.log_hazard(np.array([hours]))[0])))


def _quoted(results: Results, lives: Quoter) -> Iterator[Answer]:
    """Yield the figures that decide, each with the rule among ours that gives it, if one does."""
    verdict, life = results.advice.verdict, results.advice.reliability.life
    simple = not _shapes_apply(results)
    if verdict is not None:
        edge = verdict.reliability
        high = None if edge.low is None else 1.0 - edge.low
        rules = {}
        if simple and verdict.look is None:
            rules[OPEN] = _open_high(lives, verdict.claimed_h)
            at = np.array([verdict.claimed_h])
            one_sided = 0.5 * (1.0 + edge.level)
            rules[COUNTED] = float(lives.settled.failure_high(at, one_sided)[0])
        label = f"failure by {verdict.claimed_h:g} h at most, as the verdict has it"
        yield _by_rule("quoted_failure_high", label, high, rules, edge)
    if life is not None:
        rules = {}
        if simple and results.advice.n_mended is None:
            p = 1.0 - results.advice.reliability.target
            rules[OPEN] = lives.shapes.life_h(p)
        label = f"hours that {results.advice.reliability.target:.6g} of engines reach at least"
        yield _by_rule("quoted_life_low", f"{label}, as advised", life.low, rules, life)
    what = "estimates and optimistic edges averaged over shapes, and all simulated figures"
    yield Answer(key="averaged", label=what, amount=None, rule=NOT_CHECKED)


def _by_rule(
    key: str, label: str, amount: float | None, rules: dict[str, float], edge: Interval
) -> Answer:
    """Return a quoted figure with the rule that gives exactly it, or why none here does."""
    for rule, x in rules.items():
        if amount is not None and math.isclose(amount, x, rel_tol=1e-9, abs_tol=1e-12):
            return Answer(key=key, label=label, amount=amount, rule=rule)
    why = edge.note_low or edge.method
    return Answer(key=key, label=f"{label}: {why}", amount=amount, rule=NOT_CHECKED)
