"""From the lives of several sources to what may be said of one that is not among them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from fleetstats.advice.judge import Judgement, claim_asked, judge_another, judge_claim
from fleetstats.advice.looks.at_look import settings_at_look
from fleetstats.advice.quoted import Quoter
from fleetstats.chapters.between_sources.values import BetweenSources, SourceClaim
from fleetstats.chapters.between_sources.words import say_sources
from fleetstats.core.errors import FitError
from fleetstats.core.kept import kept
from fleetstats.core.units import text_percent
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.groups.between import Between, NewSourceChance, fit_between
from fleetstats.survival.groups.compare_each import compare_each, verdict_of
from fleetstats.survival.groups.groups import compare_groups, split_groups
from fleetstats.survival.groups.pooling import ScaleRatio
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import at_most, listed

ALIKE_P = 0.1
"""Chance by the plain tests of one scale and one shape above which no part lies past a margin."""


def compare_groups_of(parts: Mapping[str, Spells], settings: Settings) -> tuple[ScaleRatio, ...]:
    """Return the ratios of groups' lives by a study's margin, confidence, shapes and base rate."""
    low, high = settings.groups.margin
    rate = settings.base_rate.per_10000_h
    return compare_each(
        parts,
        margin=(float(low), float(high)),
        level=settings.study.confidence,
        shapes=settings.evidence.shapes,
        public_rate_per_h=None if rate is None else rate / 1e4,
    )


def are_apart(spells: Spells, by: str, settings: Settings) -> bool:
    """Return whether sources or builds that a study compares are told apart by its margin."""
    parts = split_groups(spells, by)
    if by not in settings.groups.by or len(parts) < 2:
        return False
    # Parts beyond a margin about 1 differ by any test; the plain one takes a tenth of the time.
    try:
        if all(t.p_value > ALIKE_P for t in compare_groups(spells, by).tests):
            return False
    except FitError:
        return False
    return verdict_of(compare_groups_of(parts, settings)) == "outside"


def advise_sources(
    spells: Spells,
    settings: Settings,
    hours: float | None = None,
    reliability: float | None = None,
) -> BetweenSources | None:
    """Return how the sources compare, and the claim for an engine from a source like them.

    Parameters
    ----------
    spells : Spells
        Lives for the study's question.
    settings : Settings
        Groups, margin, confidence, shapes, prior, base rate, claim.
    hours, reliability : float, optional
        Claimed hours, and the share that should reach them; default the study's.

    Returns
    -------
    BetweenSources or None
        None where the study does not compare sources, or the lives have one source or none.
    """
    parts = split_groups(spells, "source")
    if "source" not in settings.groups.by or len(parts) < 2:
        return None
    ratios = kept(
        spells,
        ("sources compared", settings.groups, settings.study.confidence, settings.evidence.shapes,
         settings.base_rate.per_10000_h),
        lambda: compare_groups_of(parts, settings),
    )  # fmt: skip
    verdict = verdict_of(ratios)
    asked = settings.study.claimed_interval_h is not None or hours is not None
    whole, asked_by = None, settings_at_look(settings)
    if asked:
        claim_h, target = claim_asked(settings, hours, reliability)
        lives = Quoter.of(spells, try_fit(spells), asked_by)
        whole = judge_claim(lives, claim_h, target)
    between, no_between = None, ""
    try:
        between = _between(spells, asked_by, () if whole is None else _ages(whole))
    except FitError as error:
        no_between = str(error)
    claim = None if whole is None else _claim(whole, between, no_between, asked_by)
    out = BetweenSources(
        verdict=verdict,
        ratios=ratios,
        between=between,
        no_between=no_between,
        claim=claim,
        sentence=say_sources(verdict, claim),
    )
    return replace(out, cautions=_cautions(out))


def _ages(whole: Judgement) -> tuple[float, ...]:
    """Return the claimed hours and, before them, the end of the evidence where it comes first."""
    return (min(whole.hours, max(whole.reach_h, 1.0)), whole.hours)


def _between(spells: Spells, settings: Settings, hours: tuple[float, ...]) -> Between:
    level, p = settings.study.confidence, 1.0 - settings.targets.reliability
    prior = (settings.evidence.prior_shape_median, settings.evidence.prior_shape_log_sd)
    return kept(
        spells,
        ("spread of sources", level, p, prior, hours),
        lambda: fit_between(spells, by="source", level=level, p=p, prior_shape=prior, hours=hours),
    )


def _claim(
    whole: Judgement, between: Between | None, no_between: str, settings: Settings
) -> SourceClaim:
    """Return the claim for these engines and for those of another source, by one rule."""
    chances: tuple[NewSourceChance, ...] = () if between is None else between.chances
    another = None
    if chances:
        at_end, there = chances
        another = judge_another(whole, low=1.0 - there.failure_high, high=1.0 - at_end.failure_low)
    return SourceClaim(
        hours=whole.hours,
        target=whole.target,
        level=settings.study.confidence,
        these_state=whole.word,
        these_failure_high=whole.failure_high,
        new_state="not-yet-shown" if another is None else another.word,
        new_because=no_between if another is None else another.because,
        new_failure=None if another is None else chances[-1].failure,
        new_failure_low=None if another is None else another.failure_low,
        new_failure_high=None if another is None else another.failure_high,
        extrapolated=whole.extrapolated,
    )


def _cautions(sources: BetweenSources) -> tuple[Caution, ...]:
    out = [] if sources.between is None else list(sources.between.cautions)
    far = [r.name for r in sources.ratios if r.verdict == "outside"]
    if sources.verdict == "outside":
        out.append(
            caution(
                "mixed-sources",
                value=f"outside for {listed(far)}",
                limit="inside the margin",
                who=listed(far),
            )
        )
    c = sources.claim
    if (
        c is not None
        and sources.verdict != "inside"
        and c.new_failure_high is not None
        and c.these_state == "supported" != c.new_state
    ):
        accepted = 1.0 - c.target
        out.append(
            caution(
                "mixed-sources/new",
                value=f"at most {at_most(c.new_failure_high, accepted)} by {c.hours:,.0f} h",
                limit=text_percent(accepted),
            )
        )
    return tuple(out)
