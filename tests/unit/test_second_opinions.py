"""The other libraries are asked fairly, kept behind their door, and never believed blindly."""

from __future__ import annotations

import json
import subprocess
import sys

import numpy as np
import pytest

from fleetstats.spells import Spells
from fleetstats.survival import fit_family, fit_weibull, second_opinions

LIVES = Spells.of(np.zeros(8), [400, 600, 650, 700, 900, 1200, 350, 800], [1, 0, 1, 0, 1, 0, 1, 1])


def test_both_agree_on_a_plain_fleet() -> None:
    opinions = second_opinions(fit_weibull(LIVES))
    assert [o.library.split()[0] for o in opinions] == ["lifelines", "reliability"]
    for o in opinions:
        assert o.answered
        assert o.agrees
        assert np.max(np.abs(o.relative_difference)) < 1e-4
        assert abs(o.log_likelihood_difference) < 1e-6
    json.dumps([o.to_dict() for o in opinions], allow_nan=False)


def test_asking_leaves_tables_as_the_user_shows_them() -> None:
    """One of the libraries sets the display of pandas as it is imported."""
    code = """
import fleetstats as fs, pandas as pd
names = ["display.float_format", "display.max_rows", "display.max_columns", "display.width"]
pd.set_option("display.max_rows", 7)
before = [pd.get_option(n) for n in names]
lives = fs.Spells.of(0, [400, 650, 800, 900], [1, 0, 1, 1])
assert [o.answered for o in fs.second_opinions(fs.fit_weibull(lives))] == [True, True]
assert [pd.get_option(n) for n in names] == before
"""
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.parametrize(
    ("lives", "lifelines", "reliability"),
    [
        (LIVES.replace(entry=[0, 0, 100, 0, 0, 0, 0, 200]), "", "delayed entry"),
        (
            LIVES.replace(exit_lower=[350, 600, 650, 700, 900, 1200, 350, 800]),
            "",
            "known only to lie between",
        ),
        (LIVES.replace(weight=np.full(8, 1.5)), "", "fractions"),
        (
            Spells.of(np.zeros(3), [300, 300, 500], [1, 1, 0]),
            "",
            "failures at two ages",
        ),
    ],
    ids=["late", "interval", "fractions", "one age"],
)
def test_what_cannot_be_asked_is_said(lives: Spells, lifelines: str, reliability: str) -> None:
    a, b = second_opinions(fit_weibull(lives))
    assert a.answered, a
    assert not b.answered
    assert reliability in b.notes[0]
    assert b.to_dict()["estimate"] == [None, None]


def test_families_without_a_counterpart_and_large_fleets() -> None:
    a, b = second_opinions(fit_family(LIVES, "gamma"))
    assert "no such family" in a.notes[0]
    assert b.answered
    a, b = second_opinions(fit_weibull(LIVES), most_lives=5)
    assert "more than 5" in a.notes[0]
    assert "more than 5" in b.notes[0]


def test_delayed_entry_and_few_failures_does_not_run_away() -> None:
    """From its default start lifelines ends at a shape near 0 on most such fleets (see the
    package's design notes on libraries); started near our maximum it finds it."""
    rng = np.random.default_rng(3)
    asked, n = 0, 250
    for _ in range(4):
        entry = 1500 * rng.random(n)
        life = 4000 * (rng.exponential(size=n) + (entry / 4000) ** 2.5) ** 0.4
        stop = entry + 100 + 300 * rng.random(n)
        failed = life <= stop
        if failed.sum() < 3:
            continue
        fit = fit_weibull(Spells.of(entry, np.minimum(life, stop), failed))
        o = second_opinions(fit)[0]
        assert o.agrees, o
        asked += 1
    assert asked >= 3


def test_a_library_that_stops_short_is_named() -> None:
    """`reliability` 0.9.0's exponential on the bearing cages (Abernethy 1983) ends 7.8 below the
    maximum; ours equals failures over hours, which needs no optimiser."""
    hours = np.array([230, 334, 423, 990, 1009, 1510, 50, 150, 250, 350, 450, 550, 650, 750, 850,
                      950, 1050, 1150, 1250, 1350, 1450, 1550, 1650, 1850, 2050.0])  # fmt: skip
    count = np.array([1, 1, 1, 1, 1, 1, 288, 148, 124, 111, 106, 99, 110, 114, 119, 127, 123, 93,
                      47, 41, 27, 11, 6, 1, 2])  # fmt: skip
    lives = Spells.of(np.zeros(25), hours, np.arange(25) < 6, weight=count)
    fit = fit_family(lives, "exponential")
    assert fit.scale_h == pytest.approx(hours @ count / 6, rel=1e-12)
    one, two = second_opinions(fit)
    assert one.agrees
    assert not two.agrees
    assert any("stopped short" in note for note in two.notes)
