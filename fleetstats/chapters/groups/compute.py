"""May the records be pooled, and does one source or engine carry the conclusion?"""

from __future__ import annotations

from fleetstats.advice.key_figures import COMPARED_RESAMPLES, Advising, advising
from fleetstats.chapters.between_sources import BetweenSources, advise_sources, compare_groups_of
from fleetstats.chapters.groups.influence import InfluenceLine, advise_influence
from fleetstats.chapters.groups.values import GroupRegion, Pooled, PoolingBy
from fleetstats.chapters.groups.words import pooling_sentence, verdict_sentence
from fleetstats.core.errors import FitError
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.counting.entry_check import (
    SETTLING_H,
    EntryCheck,
    drop_settling,
    estimate_entry_check,
    not_asked,
)
from fleetstats.survival.groups.clusters import resample_clusters
from fleetstats.survival.groups.compare_each import verdict_of
from fleetstats.survival.groups.groups import compare_groups, split_groups
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.survival.weibull.joint_region import estimate_joint_region
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import listed

_BUILDS_FOLLOW = "Builds follow each other by design; a new one is no draw from the old."

REGION_LEVELS = (0.50, 0.90)
"""Joint confidence of the likelihood regions that are drawn."""


def advise_pooling(
    spells: Spells,
    settings: Settings,
    *,
    advise: Advising | None = None,
    sources: BetweenSources | None = None,
    single: bool = True,
) -> Pooled | None:
    """Return the chapter on pooling; None when there is one engine or none.

    Parameters
    ----------
    spells : Spells
        Lives for the study's question.
    settings : Settings
        Groups, margin, confidence, shapes, base rate, seed.
    advise : callable, optional
        Lives to figures; the study's own advice, with fewer resamples, by default.
    sources : BetweenSources, optional
        How the sources compare, where it is worked out already.
    single : bool
        Whether each row is a life of its own, with its own entry. Of a long table's rows, entries
        paired with ends, no engine is left out and entry is not compared with life.
    """
    if len(spells) < 2:
        return None
    sources = advise_sources(spells, settings) if sources is None else sources
    figure = advising(settings, resamples=COMPARED_RESAMPLES) if advise is None else advise
    groups = tuple(
        _pooling_by(spells, by, settings, sources)
        for by in settings.groups.by
        if by in ("build", "source") and len(split_groups(spells, by)) > 1
    )
    base = figure(spells)
    influence, compared = advise_influence(
        spells, settings, base=base, advise=figure, single=single
    )
    entry = estimate_entry_check(spells, seed=settings.study.seed) if single else not_asked(spells)
    settled = from_new = None
    if entry.reading in ("joiners-fail-early", "joiners-fail-late", "too-few"):
        later = drop_settling(spells)
        settled = figure(later) if len(later) else None
        new = spells.select(spells.entry == 0)
        from_new = figure(new) if len(new) else None
    return Pooled(
        groups=groups,
        base=base,
        influence=influence,
        engines_compared=compared,
        entry=entry,
        settled=settled,
        settled_h=SETTLING_H,
        from_new=from_new,
        sentence=pooling_sentence(groups, influence),
        cautions=_cautions(groups, influence, entry),
    )


def _pooling_by(
    spells: Spells, by: str, settings: Settings, sources: BetweenSources | None
) -> PoolingBy:
    parts = split_groups(spells, by)
    if by == "source" and sources is not None:
        ratios, between, no_between = sources.ratios, sources.between, sources.no_between
    else:
        ratios, between, no_between = compare_groups_of(parts, settings), None, _BUILDS_FOLLOW
    verdict = verdict_of(ratios)
    widening, note = None, ""
    try:
        widening = resample_clusters(spells, by=by, n=120, seed=settings.study.seed).widening
    except FitError as error:
        note = str(error)
    return PoolingBy(
        by=by,
        verdict=verdict,
        ratios=ratios,
        comparison=compare_groups(spells, by),
        regions=_regions(parts),
        between=between,
        no_between=no_between,
        widening=widening,
        widening_note=note,
        sentence=verdict_sentence(by, verdict, ratios),
    )


def _regions(parts: dict[str, Spells]) -> tuple[GroupRegion, ...]:
    out = []
    for name, part in parts.items():
        if part.n_failed < 3:  # two parameters: fewer failures give no closed region
            continue
        try:
            fit = fit_weibull(part)
        except FitError:
            continue
        out.append(
            GroupRegion(
                name=name,
                shape=fit.shape,
                scale_h=fit.scale_h,
                regions=tuple(estimate_joint_region(fit, level=c) for c in REGION_LEVELS),
            )
        )
    return tuple(out)


def _cautions(
    groups: tuple[PoolingBy, ...], influence: tuple[InfluenceLine, ...], entry: EntryCheck
) -> tuple[Caution, ...]:
    out = list(entry.cautions)
    out += [
        caution(
            "mixed-builds/pooling", value=g.verdict.replace("-", " "), limit="inside the margin"
        )
        for g in groups
        if g.verdict != "inside" and g.by == "build"
    ]
    turns = [x for x in influence if x.carries]
    if turns:
        names = [f"{x.kind} {x.name}" for x in turns]
        each = ", each by itself" if len(names) > 1 else ""
        out.append(
            caution(
                "one-unit/influence",
                value=", ".join(names),
                limit="none",
                what=listed(names[:3]),
                is_are="are" if each else "is",
                each=each,
            )
        )
    return tuple(out)
