"""The same facts on use and fuel told otherwise: order, names and reference change no effect."""

import dataclasses
import math

import numpy as np
import pytest
from messy_uses import write_messy

import fleetstats as fs
from fleetstats.chapters.covariates.compute import advise_levels
from fleetstats.spells import Spells
from fleetstats.survival.regression.covariates import build_covariates, commonest
from fleetstats.survival.regression.known_shape import compare_level
from fleetstats.survival.regression.regression import fit_accelerated
from fleetstats.survival.regression.stratified import fit_stratified


def effects_of(folder, at=("use=towing",), **keys):
    study = fs.read_study(folder)
    records = fs.read_records(study)
    built = fs.build_spells(study, records, fs.audit_records(study, records))
    categories = dataclasses.replace(study.settings.categories, at=at, **keys)
    settings = dataclasses.replace(study.settings, categories=categories)
    return advise_levels(built.rows, built.spells, {}, settings)


def logs(effects, column="use"):
    """Return log life factors of each level, all set against the mean of the levels."""
    mine = [f for f in effects.regression.factors if f.name.startswith(f"{column}: ")]
    reference = mine[0].name.rpartition(" v ")[2]
    out = {f.name.partition(": ")[2].rpartition(" v ")[0]: f.coef for f in mine} | {reference: 0.0}
    middle = sum(out.values()) / len(out)
    return {k: v - middle for k, v in out.items()}


@pytest.fixture(scope="module")
def messy(tmp_path_factory):
    return write_messy(tmp_path_factory.mktemp("messy"), seed=1)


@pytest.fixture(scope="module")
def told(messy):
    return effects_of(messy)


def test_the_order_of_rows_changes_nothing(messy, told, tmp_path):
    for name in ("study.toml", "lives.csv", "log.csv"):
        text = (messy / name).read_text()
        if name == "lives.csv":
            head, *rows = text.splitlines()
            np.random.default_rng(0).shuffle(rows)
            text = "\n".join([head, *rows]) + "\n"
        (tmp_path / name).write_text(text)
    other = effects_of(tmp_path)
    assert logs(other) == pytest.approx(logs(told), abs=1e-8)
    assert other.sentence == told.sentence
    assert other.at_sentence == told.at_sentence
    assert {x.name: x.ratio for x in other.within.ratios} == pytest.approx(
        {x.name: x.ratio for x in told.within.ratios}, rel=1e-8
    )


def test_new_names_for_levels_and_words_change_nothing_else(messy, told, tmp_path):
    """Towing is mapped to a name of the club's own, and the words for it are others."""
    for name in ("study.toml", "lives.csv", "log.csv"):
        text = (messy / name).read_text()
        if name == "study.toml":
            more = '"zz1" = "A-work"\n"zz2" = "A-work"\n"zz3" = "A-work"\n"zz4" = "A-work"\n'
            text = text.replace('"Schlepp" = "towing"\n', '"Schlepp" = "A-work"\n' + more)
        else:
            for k, word in enumerate(("Towing", "glider tow", "TUG", "aero-tow"), start=1):
                text = text.replace(f",{word},", f",zz{k},")
            text = text.replace(",towing,", ",zz1,")
        (tmp_path / name).write_text(text)
    other = effects_of(tmp_path, at=("use=A-work",))
    renamed = {("towing" if k == "A-work" else k): v for k, v in logs(other).items()}
    assert renamed == pytest.approx(logs(told), abs=1e-8)
    assert other.at_sentence.replace("A-work", "towing") == told.at_sentence
    mine, theirs = (e.at.law.lives[0].life_h for e in (told, other))
    assert (mine.low, mine.high) == pytest.approx((theirs.low, theirs.high), rel=1e-6)


def fleet(seed=4, n=260):
    rng = np.random.default_rng(seed)
    use = rng.choice(["a", "b", "c"], n)
    life = 1500.0 * np.where(use == "b", 0.7, 1.0) * rng.weibull(2.0, n)
    stop = rng.uniform(400, 2200, n)
    strata = rng.choice(["x", "y"], n)
    return Spells.of(np.zeros(n), np.minimum(life, stop), life <= stop), use, strata


@pytest.mark.parametrize("reference", ["a", "b", "c"])
def test_another_reference_leaves_effects_relative_to_each_other(reference):
    """The same design with another level left out of its columns."""
    spells, use, strata = fleet()
    base = build_covariates(spells, {}, labels={"use": use})
    by_hand = np.column_stack([(use == w).astype(float) for w in "abc" if w != reference])
    labels = [w for w in "abc" if w != reference]
    other = dataclasses.replace(
        base, names=tuple(f"use: {w} v {reference}" for w in labels), values=by_hand
    )
    for fit in (
        lambda d: {f.name: f.coef for f in fit_accelerated(spells, d).factors},
        lambda d: {r.name: r.coef for r in fit_stratified(spells, d, strata).ratios},
    ):
        mine, theirs = fit(base), fit(other)
        usual = commonest(spells, use)
        of = {n[5:6]: c for n, c in mine.items()} | {usual: 0.0}
        to = {n[5:6]: c for n, c in theirs.items()} | {reference: 0.0}
        for w in "abc":
            assert to[w] - to["a"] == pytest.approx(of[w] - of["a"], abs=1e-6)


def test_two_levels_exchanged_turn_the_exact_ratio_over():
    spells, use, strata = fleet(6, 60)
    ask = {"name": "x", "shape": 2.0}
    one = compare_level(spells, use, strata, level_word="b", reference="a", **ask)
    two = compare_level(spells, use, strata, level_word="a", reference="b", **ask)
    assert one.ratio == pytest.approx(1 / two.ratio)
    assert (one.ratio_low, one.ratio_high) == pytest.approx((1 / two.ratio_high, 1 / two.ratio_low))
    assert math.log(one.low) == pytest.approx(-math.log(two.high))
