"""May the records be pooled, and does one source or engine carry the conclusion?"""

from __future__ import annotations

from fleetstats.advice.key_figures import COMPARED_RESAMPLES, Advising, advising
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
)
from fleetstats.survival.groups.between import fit_between
from fleetstats.survival.groups.clusters import resample_clusters
from fleetstats.survival.groups.groups import compare_groups, split_groups
from fleetstats.survival.groups.pooling import ScaleRatio, compare_scales
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.survival.weibull.joint_region import estimate_joint_region
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import listed

REGION_LEVELS = (0.50, 0.90)
"""Joint confidence of the likelihood regions that are drawn."""


def advise_pooling(
    spells: Spells, settings: Settings, *, advise: Advising | None = None
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
    """
    if len(spells) < 2:
        return None
    figure = advising(settings, resamples=COMPARED_RESAMPLES) if advise is None else advise
    groups = tuple(
        _pooling_by(spells, by, settings)
        for by in settings.groups.by
        if by in ("build", "source") and len(split_groups(spells, by)) > 1
    )
    base = figure(spells)
    influence, compared = advise_influence(spells, settings, base=base, advise=figure)
    entry = estimate_entry_check(spells, seed=settings.study.seed)
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


def _pooling_by(spells: Spells, by: str, settings: Settings) -> PoolingBy:
    parts = split_groups(spells, by)
    ratios = compare_all(parts, settings)
    words = {r.verdict for r in ratios}
    verdict = "outside" if "outside" in words else "cannot-tell" if len(words) > 1 else words.pop()
    between, no_between = None, ""
    if by == "build":
        no_between = "Builds follow each other by design; a new one is no draw from the old."
    else:
        try:
            between = fit_between(
                spells,
                by=by,
                level=settings.study.confidence,
                p=1.0 - settings.targets.reliability,
                prior_shape=(
                    settings.evidence.prior_shape_median,
                    settings.evidence.prior_shape_log_sd,
                ),
            )
        except FitError as error:
            no_between = str(error)
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


def compare_all(parts: dict[str, Spells], settings: Settings) -> tuple[ScaleRatio, ...]:
    """Return the ratio of two groups, or of each of more against all others together."""
    names = list(parts)
    rate = settings.base_rate.per_10000_h
    low, high = settings.groups.margin
    out = []
    held = names if len(names) > 2 else names[:1]
    for name in held:
        others = [n for n in names if n != name]
        rest = parts[others[0]]
        for n in others[1:]:
            rest = rest.join(parts[n])
        out.append(
            compare_scales(
                parts[name],
                rest,
                names=(name, others[0] if len(others) == 1 else "all others"),
                margin=(float(low), float(high)),
                level=settings.study.confidence,
                shapes=settings.evidence.shapes,
                public_rate_per_h=None if rate is None else rate / 1e4,
                comparisons=len(held),
            )
        )
    return tuple(out)


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
    for g in groups:
        if g.verdict != "inside" and g.by == "build":
            out.append(
                caution(
                    "mixed-builds/pooling",
                    value=g.verdict.replace("-", " "),
                    limit="inside the margin",
                )
            )
        if g.between is not None and g.by == "source":
            out.extend(g.between.cautions)
    turns = [x for x in influence if x.turns]
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
