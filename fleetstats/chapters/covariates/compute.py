"""The chapter on covariates: what stretches and what shortens life in these records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from fleetstats.chapters.covariates.at import answer_at, read_asked
from fleetstats.chapters.covariates.design import LivesByLevel, designs, lives_by_values
from fleetstats.chapters.covariates.values import AnswerAt, Effects, LevelHeld
from fleetstats.chapters.covariates.words import effects_sentence, levels_sentence, values_words
from fleetstats.core.errors import FitError
from fleetstats.core.units import text_decided, text_hours, text_percent
from fleetstats.core.value import Array
from fleetstats.records.life import LifeRow
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.regression.covariates import Covariates, build_covariates, commonest
from fleetstats.survival.regression.known_shape import ShapeEffect, compare_level
from fleetstats.survival.regression.proportional import Proportional, fit_proportional
from fleetstats.survival.regression.regression import Regression, fit_accelerated
from fleetstats.survival.regression.stratified import Stratified, fit_stratified
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.fields.categories import NOT_GIVEN
from fleetstats.vocabulary.limits import FEW_FOR_SHAPE, MUCH_NOT_GIVEN, SHOWN_P
from fleetstats.vocabulary.wording import count, listed


def numbers_of(rows: tuple[LifeRow, ...], names: tuple[str, ...]) -> dict[str, Array]:
    """Return (n,) numeric columns of the rows by name; NaN where a row has none.

    A name that no row has is left out (the audit says so): with it no row would be complete.
    """
    return {
        name: np.array([float(row.extra.get(name, np.nan)) for row in rows], dtype=float)
        for name in names
        if any(name in row.extra for row in rows)
    }


def advise_effects(
    spells: Spells, numbers: Mapping[str, Array], settings: Settings
) -> Effects | None:
    """Return what covariates do to life; None when the study has neither numbers nor two builds.

    Parameters
    ----------
    spells : Spells
        Lives for the study's question.
    numbers : mapping of str to (n,) float
        Numeric covariates, as `numbers_of` returns them.
    settings : Settings
        Groups and confidence.
    """
    builds = np.unique(spells.build[spells.build != ""])
    groups = ("build",) if "build" in settings.groups.by and len(builds) > 1 else ()
    if not numbers and not groups:
        return None
    level = settings.study.confidence
    try:
        table = build_covariates(spells, numbers, groups=groups)
        regression = fit_accelerated(spells, table, level=level)
    except FitError as error:
        return Effects(
            regression=None,
            hazards=None,
            reason=str(error),
            no_hazards=str(error),
            sentence=f"No effects can be given. {error}",
        )
    hazards, no_hazards = None, ""
    if regression.treatment == "plain":
        try:
            hazards = fit_proportional(spells, table, level=level)
        except FitError as error:
            no_hazards = str(error)
    else:
        no_hazards = "Left out, as the effects are not fitted freely."
    return Effects(
        regression=regression,
        hazards=hazards,
        reason="",
        no_hazards=no_hazards,
        sentence=effects_sentence(regression),
        cautions=(*regression.cautions, *_check_cautions(regression, hazards)),
    )


def advise_levels(
    rows: tuple[LifeRow, ...], spells: Spells, numbers: Mapping[str, Array], settings: Settings
) -> Effects | None:
    """Return what levels of columns of words do to life, and the life at the values asked for.

    Parameters
    ----------
    rows : tuple of LifeRow
        The life behind each spell, in the same order.
    spells : Spells
        Lives for the study's question.
    numbers : mapping of str to (n,) float
        Numeric covariates.
    settings : Settings
        Tables categories, groups, evidence, targets and study.

    Raises
    ------
    SettingError
        If a value asked for is none of these lives.
    """
    keys, level = settings.categories, settings.study.confidence
    lives = lives_by_values(rows, spells, numbers, settings)
    asked = read_asked(lives, settings) if keys.at else None
    base = Effects(
        regression=None,
        hazards=None,
        reason="",
        no_hazards="",
        sentence="",
        levels=_level_lines(lives),
        n_changed=lives.n_changed,
    )
    covariates, regression, reason = _fit(lives, settings)
    used = () if covariates is None else covariates[0]
    design = None if covariates is None else covariates[1]
    effects = replace(
        base,
        regression=regression,
        reason=reason,
        adjusted=used,
        not_adjusted=_not_adjusted(lives, keys.adjust, used),
        within=_within(lives, design, keys.adjust, level),
    )
    few = lives.spells.n_failed < FEW_FOR_SHAPE or regression is None or not regression.factors
    if few:
        effects = replace(effects, over_shapes=_over_shapes(lives, settings))
    if asked is not None:
        at = answer_at(lives, design, regression, asked, settings)
        effects = replace(effects, at=at, at_sentence=at.sentence)
    return replace(
        effects,
        sentence=levels_sentence(effects),
        cautions=_level_cautions(effects, lives),
    )


def _fit(
    lives: LivesByLevel, settings: Settings
) -> tuple[tuple[tuple[str, ...], Covariates] | None, Regression | None, str]:
    """Return the design and the regression with as much adjusted for as the failures carry."""
    level, last, reason = settings.study.confidence, None, ""
    n = lives.spells.n_failed
    if n < FEW_FOR_SHAPE:
        told = count(n, "failure")
        return None, None, f"{told.capitalize()}: too few to tell a shape, so a range is looked at."
    for used, design in designs(lives, settings.categories.adjust):
        if not design.names:
            return None, None, "No column has two values among these lives."
        try:
            found = fit_accelerated(lives.spells, design, level=level)
        except FitError as error:
            reason = reason or str(error)
            continue
        last = ((used, design), found)
        if found.treatment != "refused":
            return *last, ""
    if last is None:
        return None, None, reason
    return *last, ""


def _not_adjusted(
    lives: LivesByLevel, adjust: tuple[str, ...], used: tuple[str, ...]
) -> tuple[str, ...]:
    """Say why each thing that effects should be adjusted for is not among those that they are."""
    out = []
    for name in adjust:
        if name in used:
            continue
        if name == "build" and lives.builds < 2:
            out.append("build: there is one, or none is told")
        elif name == "calendar" and not lives.dated:
            out.append("calendar: dates do not tell when most lives entered")
        else:
            out.append(f"{name}: the failures do not carry it as well")
    return tuple(out)


def _within(
    lives: LivesByLevel, design: Covariates | None, adjust: tuple[str, ...], level: float
) -> Stratified | None:
    """Return hazard ratios of the levels within builds and periods; None where none is told."""
    if design is None:
        return None
    plain = build_covariates(lives.spells, lives.numbers, labels=lives.labels)
    try:
        return fit_stratified(lives.spells, plain, lives.strata(adjust), level=level)
    except FitError:
        return None


def _over_shapes(lives: LivesByLevel, settings: Settings) -> tuple[ShapeEffect, ...]:
    keys, level = settings.categories, settings.study.confidence
    out = []
    for column, labels in lives.labels.items():
        reference = commonest(lives.spells, labels)
        strata = lives.strata(keys.adjust, column)
        for word in sorted(set(labels.tolist()) - {reference}):
            out += [
                compare_level(
                    lives.spells,
                    labels,
                    strata,
                    name=f"{column}: {word} v {reference}",
                    level_word=word,
                    reference=reference,
                    shape=shape,
                    level=level,
                )
                for shape in settings.evidence.shapes
            ]
    return tuple(out)


def _level_lines(lives: LivesByLevel) -> tuple[LevelHeld, ...]:
    out = []
    for column, labels in lives.labels.items():
        reference = commonest(lives.spells, labels)
        others = sorted(set(labels.tolist()) - {reference})
        for word in (reference, *others):
            part = lives.spells.select(labels == word)
            out.append(
                LevelHeld(
                    column=column,
                    level=word,
                    reference=word == reference,
                    lives=float(part.weight.sum()),
                    hours=part.exposure_h,
                    failures=part.n_failed,
                    oldest_h=part.oldest_h,
                )
            )
    return tuple(out)


def _level_cautions(effects: Effects, lives: LivesByLevel) -> tuple[Caution, ...]:
    out = list(effects.regression.cautions) if effects.regression is not None else []
    if effects.regression is not None:
        out += _check_cautions(effects.regression, None)
        out += not_separable(effects.regression.set_aside)
    out += not_given(effects.levels, float(lives.spells.weight.sum()))
    if effects.at is not None:
        out += _at_cautions(effects.at)
    return tuple(out)


def not_separable(set_aside: tuple[tuple[str, int], ...]) -> list[Caution]:
    """Return the caution on columns that say what others say already."""
    apart = ", which cannot be told apart from "
    alike = [why.replace(apart, " from ") for why, _ in set_aside if apart in why]
    return [caution("levels-not-separable", what=listed(alike))] if alike else []


def not_given(levels: tuple[LevelHeld, ...], lives: float) -> list[Caution]:
    """Return the caution on columns that many lives leave empty."""
    much = {x.column: x.lives / lives for x in levels if x.level == NOT_GIVEN}
    much = {c: share for c, share in much.items() if share > MUCH_NOT_GIVEN}
    if not much:
        return []
    value = ", ".join(f"{c} {text_decided(s, MUCH_NOT_GIVEN)}" for c, s in much.items())
    limit = text_percent(MUCH_NOT_GIVEN)
    return [caution("levels-not-given", columns=listed(list(much)), value=value, limit=limit)]


def _at_cautions(at: AnswerAt) -> list[Caution]:
    values = values_words(at)
    if not at.n:
        return [caution("values-not-seen", values=values)]
    law = at.law
    beyond = [a.extrapolated for s in at.shapes for a in s.ages]
    if law is not None:
        beyond += [x.extrapolated for x in law.lives] + [x.extrapolated for x in law.ages]
    if any(beyond):
        return [caution("values-not-seen/beyond", values=values, hours=text_hours(at.reached_h))]
    return []


def _check_cautions(r: Regression, hazards: Proportional | None) -> tuple[Caution, ...]:
    out = []
    bad = [f for f in r.factors if f.shape_p_value is not None and f.shape_p_value < SHOWN_P]
    if bad:
        out.append(
            caution(
                "mixed-builds/shape",
                value=", ".join(f"{f.name} p {f.shape_p_value:.3f}" for f in bad),
                limit=f"p {SHOWN_P:g}",
            )
        )
    if hazards is not None:
        moving = [
            h for h in hazards.ratios if h.proportional_p is not None and h.proportional_p < SHOWN_P
        ]
        if moving:
            out.append(
                caution(
                    "hazards-not-proportional",
                    value=", ".join(f"{h.name} p {h.proportional_p:.3f}" for h in moving),
                    limit=f"p {SHOWN_P:g}",
                )
            )
    return tuple(out)
