"""From `--at use=towing` to life, reliability and hazard there."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fleetstats.chapters.covariates.design import DATED, TOLD, LivesByLevel
from fleetstats.chapters.covariates.values import AnswerAt, ValueAt
from fleetstats.chapters.covariates.words import at_sentence
from fleetstats.core.errors import SettingError
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.regression.at_values import quote_at
from fleetstats.survival.regression.covariates import Covariates, commonest
from fleetstats.survival.regression.known_shape import ShapeLife, life_at_shape
from fleetstats.survival.regression.regression import Regression
from fleetstats.vocabulary.fields.categories import known_levels, level_of
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.nearest import did_you_mean

AGES = 4
"""Ages in round hours at which reliability and hazard stand, up to the oldest such life."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedValues:
    """Values asked for: levels by column of words, build or numbers by name."""

    levels: dict[str, str]
    build: str
    numbers: dict[str, float]


def read_asked(lives: LivesByLevel, settings: Settings) -> AskedValues:
    """Return what `categories.at` asks for, in the names and levels of these lives.

    Raises
    ------
    SettingError
        If a name is no covariate of the study, or a word no level that any life has; all are told.
    """
    builds = sorted(set(lives.spells.build.tolist()) - {""})
    names = (*lives.labels, *lives.numbers, *(("build",) if len(builds) > 1 else ()))
    levels: dict[str, str] = {}
    numbers: dict[str, float] = {}
    build, problems = "", []
    for pair in settings.categories.at:
        name, _, word = (x.strip() for x in pair.partition("="))
        ours = next((n for n in names if fold(n) == fold(name)), "")
        if not ours:
            known = did_you_mean(name, names) if names else "The study has no covariates."
            problems.append(f"--at {pair}: there is no covariate '{name}'. {known}")
        elif ours in lives.numbers:
            try:
                numbers[ours] = float(word)
            except ValueError:
                numbers[ours] = math.nan
            if not math.isfinite(numbers[ours]):
                problems.append(f"--at {pair}: '{word}' is not a number.")
        else:
            have = builds if ours == "build" else sorted(set(lives.labels[ours].tolist()))
            found = _level(ours, word, have, settings)
            if not found:
                said = did_you_mean(word, have)
                some = "" if said.startswith("Known") else f" Lives have: {', '.join(have)}."
                problems.append(f"--at {pair}: no life has {ours} '{word}'. {said}{some}")
            elif ours == "build":
                build = found
            else:
                levels[ours] = found
    if problems:
        raise SettingError("\n".join(problems), problems=tuple(problems))
    return AskedValues(levels=levels, build=build, numbers=numbers)


def _level(column: str, word: str, have: list[str], settings: Settings) -> str:
    words = settings.categories.words
    means = word if column == "build" else level_of(column, word, words)
    if means is None and not known_levels(column, words):
        means = word
    return next((x for x in have if fold(x) == fold(means or word)), "")


def answer_at(
    lives: LivesByLevel,
    covariates: Covariates | None,
    regression: Regression | None,
    asked: AskedValues,
    settings: Settings,
) -> AnswerAt:
    """Return life, reliability and hazard at the values asked for.

    By the fitted effects where there are any; else from the lives with these values alone, over
    the range of shapes of the study.
    """
    level = settings.study.confidence
    p = round(1.0 - settings.targets.reliability, 9)
    mine = _same(lives, asked)
    part = lives.spells.select(mine)
    ages = _ages(part, settings)
    law, shapes = None, tuple[ShapeLife, ...]()
    values = _values(lives, covariates, asked)
    fit = regression if regression is not None and regression.factors else None
    if covariates is not None and fit is not None and _expressed(covariates, values):
        law = quote_at(
            lives.spells,
            covariates,
            _row(covariates, values, asked),
            mine,
            shares=(p,),
            ages_h=ages,
            level=level,
            held_back=fit.treatment == "penalised",
        )
    else:
        values = tuple(v for v in values if v.how == "asked")
        shapes = tuple(
            life_at_shape(part, p, shape=s, level=level, ages_h=ages)
            for s in (settings.evidence.shapes if len(part) else ())
        )
    answer = AnswerAt(
        values=values,
        law=law,
        shapes=shapes,
        n=float(part.weight.sum()),
        n_failed=part.n_failed,
        reached_h=part.oldest_h,
        level=level,
        sentence="",
    )
    return AnswerAt(
        **{n: getattr(answer, n) for n in AnswerAt.__dataclass_fields__ if n != "sentence"},
        sentence=at_sentence(answer, p),
    )


def _same(lives: LivesByLevel, asked: AskedValues) -> Array:
    keep = np.ones(len(lives.spells), dtype=bool)
    for column, level in asked.levels.items():
        keep &= lives.labels[column] == level
    if asked.build:
        keep &= lives.spells.build == asked.build
    return keep


def _ages(part: Spells, settings: Settings) -> tuple[float, ...]:
    """Return the claimed interval and a few round ages up to the oldest life."""
    claimed = settings.study.claimed_interval_h
    ages = set() if claimed is None else {float(claimed)}
    if len(part):
        step = part.oldest_h / AGES
        unit = 10.0 ** math.floor(math.log10(step))
        step = max(unit, math.floor(step / unit) * unit)
        ages |= {k * step for k in range(1, AGES + 1)}
    return tuple(sorted(ages))


def _values(
    lives: LivesByLevel, covariates: Covariates | None, asked: AskedValues
) -> tuple[ValueAt, ...]:
    """Return every covariate with its value here, those asked for first."""
    kept = lives.spells if covariates is None else lives.spells.select(covariates.keep)
    out = [ValueAt(name=n, value=v, how="asked") for n, v in asked.levels.items()]
    out += [ValueAt(name="build", value=asked.build, how="asked")] if asked.build else []
    out += [ValueAt(name=n, value=f"{x:g}", how="asked") for n, x in asked.numbers.items()]
    if covariates is None:
        return tuple(out)
    done = {v.name for v in out}
    for name, centre in zip(covariates.names, covariates.centre, strict=True):
        column, colon, contrast = name.partition(": ")
        if column in done:
            continue
        done.add(column)
        if not colon:
            out.append(ValueAt(name=column, value=f"{centre:.4g}", how="mean"))
        elif column == DATED:
            out.append(ValueAt(name=column, value=TOLD, how="commonest"))
        elif column == "build":
            out.append(ValueAt(name=column, value=contrast.rpartition(" v ")[2], how="commonest"))
        else:
            usual = commonest(kept, lives.labels[column][covariates.keep])
            out.append(ValueAt(name=column, value=usual, how="commonest"))
    return tuple(out)


def _expressed(covariates: Covariates, values: tuple[ValueAt, ...]) -> bool:
    """Return whether the design has a column for each value asked for, or has it as reference."""
    for v in (v for v in values if v.how == "asked"):
        mine = [n for n in covariates.names if n == v.name or n.startswith(f"{v.name}: ")]
        told = any(n == v.name or f"{n} v ".startswith(f"{v.name}: {v.value} v ") for n in mine)
        if not told and not any(n.endswith(f" v {v.value}") for n in mine):
            return False
    return True


def _row(covariates: Covariates, values: tuple[ValueAt, ...], asked: AskedValues) -> Array:
    """Return (k,) values on the design's own scale."""
    at = {v.name: v.value for v in values}
    out = np.zeros(len(covariates.names))
    for j, (name, centre) in enumerate(zip(covariates.names, covariates.centre, strict=True)):
        column, colon, contrast = name.partition(": ")
        if colon:
            out[j] = float(contrast.startswith(f"{at[column]} v "))
        elif column in asked.numbers:
            out[j] = asked.numbers[column] - centre
    return out
