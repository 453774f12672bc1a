"""One claim has one verdict, by whatever road it is asked: fleets made at random from stated truth.

The law itself is logic, with no outside source: the same engines, the same claim, the same word.
"""

from __future__ import annotations

import dataclasses
from collections import Counter
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from advice_fleets import made_fleet, made_rows, made_settings

from fleetstats.advice.advise import advise_hours
from fleetstats.advice.judge import judge_claim
from fleetstats.advice.key_figures import Advising, advising
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.results import Results
from fleetstats.advice.tipping import count_hidden
from fleetstats.chapters.claim.compute import advise_claim
from fleetstats.chapters.clocks_and_dates.compute import run_rows
from fleetstats.chapters.groups.influence import advise_influence
from fleetstats.chapters.hidden.compute import estimate_hidden
from fleetstats.chapters.page_grid.compute import WORDS, chapter_tabulated
from fleetstats.chapters.plan.compute import plan_evidence
from fleetstats.core.seeds import stream
from fleetstats.portfolio.family import advise_family
from fleetstats.records.split_families import Family
from fleetstats.spells import Spells
from fleetstats.studies.analyse import analyse
from fleetstats.study.settings import Settings
from fleetstats.study.study import read_study
from fleetstats.survival.weibull.fit_weibull import try_fit

N_FLEETS = 240
GROUPED, LONG = 20, 40
"""Each so many-th fleet is asked as a group too, and goes the long roads; all do when slow."""


def made(i: int) -> tuple[Spells, Settings]:
    """Return the i-th fleet and its claim: few failures or many, wear-out or not, far or near."""
    rng = stream(7, "fleets of one verdict", i)
    fleet = made_fleet(
        int(rng.integers(15, 120)),
        shape=float(rng.choice([0.6, 1.0, 1.6, 2.5, 4.0])),
        scale_h=float(rng.choice([700.0, 1500.0, 3000.0, 9000.0])),
        seed=i,
        late=float(rng.choice([0.0, 0.4])),
    )
    settings = made_settings(
        claim=float(rng.choice([400.0, 800.0, 1200.0, 1600.0])),
        targets={"reliability": float(rng.choice([0.7, 0.8, 0.9, 0.95]))},
        evidence={"method": str(rng.choice(["auto", "auto", "profile"])), "resamples": 300},
        study={"confidence": float(rng.choice([0.8, 0.9]))},
    )
    return fleet, settings


def quick_roads(fleet: Spells, settings: Settings) -> dict[str, str]:
    """Return the word by every road that needs no grid and no file."""
    fit, claim = try_fit(fleet), settings.study.claimed_interval_h
    assert claim is not None
    target = settings.targets.reliability
    verdict = advise_hours(fleet, fit, settings, curves=False).verdict
    assert verdict is not None
    asked = advise_claim(fleet, settings, fit=fit, by=())
    words = {
        "study": verdict.word,
        "judge": judge_claim(Quoter.of(fleet, fit, settings), claim, target).word,
        "claim": asked.state,
        "claim without a fit at hand": advise_claim(fleet, settings, by=()).state,
    }
    # what is quoted is what is judged
    assert asked.failure_high == 1.0 - (verdict.reliability.low or 0.0)
    assert asked.extrapolated == verdict.extrapolated
    if verdict.word == "contradicted":
        assert asked.failure_low == 1.0 - (verdict.reliability.high or 0.0)
        assert asked.failure_low > 1.0 - target
    run = run_rows("all", made_rows(fleet), settings)
    assert run is not None
    return words | {"looking back": run.verdict}


def group_roads(fleet: Spells, settings: Settings) -> dict[str, str]:
    """Return the word on the fleet as one build of two, by its own line and by the other's."""
    other = made_fleet(40, seed=999).replace(unit=[f"other {i}" for i in range(40)])
    both = fleet.replace(build=np.full(len(fleet), "ours")).join(
        other.replace(build=np.full(40, "theirs"))
    )
    subsets = advise_claim(both, settings, by=("build",)).subsets
    advise: Advising = advising(settings, resamples=100)
    lines, _ = advise_influence(
        both,
        dataclasses.replace(settings, groups=dataclasses.replace(settings.groups, by=("build",))),
        base=advise(both),
        advise=advise,
    )
    return {
        "compared": advising(settings, resamples=100)(fleet).verdict,
        "claim by build": next(s.state for s in subsets if s.name == "ours"),
        "influence": next(x.figure.verdict for x in lines if x.name == "theirs"),
    }


def long_roads(fleet: Spells, settings: Settings) -> dict[str, str]:
    """Return the word by the page's grid, and check the roads that only say shown or not."""
    fit, claim = try_fit(fleet), settings.study.claimed_interval_h
    assert claim is not None
    advice = advise_hours(fleet, fit, settings, curves=False)
    base: Any = SimpleNamespace(spells=fleet, fit=fit, settings=settings, advice=advice)
    tab = chapter_tabulated(base, {})
    cell = next(r for r in tab.readings if r.part == "word")
    said = str(tab.look_up(cell)[0])
    assert advice.verdict is not None
    shown = advice.verdict.word == "supported"
    least = count_hidden(
        fleet, fit, settings, hours=claim, accepted=1.0 - settings.targets.reliability
    ).least
    assert (least != 0) == shown
    if advice.verdict.hidden_to_turn is not None:
        assert advice.verdict.hidden_to_turn == least
    assert estimate_hidden(fleet, fit, settings).shown == shown
    assert (plan_evidence(fleet, settings, fit=fit).state == "shown") == shown
    return {"page": WORDS[cell.words.index(said)]}


def test_the_word_is_the_same_by_every_road() -> None:
    differ, seen = [], Counter[str]()
    for i in range(N_FLEETS):
        fleet, settings = made(i)
        words = quick_roads(fleet, settings)
        if i % GROUPED == 0:
            words |= group_roads(fleet, settings)
        if i % LONG == 0:
            words |= long_roads(fleet, settings)
        seen[words["study"]] += 1
        if len(set(words.values())) > 1:
            differ.append((i, words))
    assert differ == []
    assert set(seen) == set(WORDS)
    assert min(seen.values()) >= 10  # each word is tried, or the law says little


@pytest.mark.slow
def test_all_roads_agree_for_every_fleet() -> None:
    for i in range(N_FLEETS):
        fleet, settings = made(i)
        words = quick_roads(fleet, settings) | long_roads(fleet, settings)
        words |= group_roads(fleet, settings)
        assert len(set(words.values())) == 1, (i, words)


@pytest.mark.parametrize("i", [1, 4, 10, 22])
def test_a_file_is_judged_alike_as_a_study_a_long_table_and_a_family(
    i: int, make_study: Any
) -> None:
    fleet, settings = made(i)
    hours = [
        f"E-{j},{fleet.entry[j]:.3f},{fleet.exit_upper[j]:.3f},"
        f"{'failed' if fleet.failed[j] else 'running'}"
        for j in range(len(fleet))
    ]
    claim = settings.study.claimed_interval_h
    study = make_study(
        "\n".join(["engine,entry_hours,exit_hours,ending", *hours]) + "\n",
        f"claimed_interval_h = {claim}\n[targets]\nreliability = {settings.targets.reliability}\n"
        "[merge]\nreturns = false\n",
    )
    results = analyse(study)
    row = advise_family(Family(name="one", slug="one", study=study, opened=None, digest=""))
    assert row.message == ""
    long = analyse(study, chunks=True)
    assert results.advice.verdict is not None
    assert long.advice.verdict is not None
    words = {
        "study": results.advice.verdict.word,
        "claim": results.chapters["claim"].state,  # type: ignore[attr-defined]
        "long table": long.advice.verdict.word,
        "its claim": long.chapters["claim"].state,  # type: ignore[attr-defined]
        "family": row.verdict,
    }
    assert len(set(words.values())) == 1, words
    assert row.at_claim == results.advice.verdict.reliability
    assert row.life == results.advice.reliability.life


@pytest.fixture(scope="module")
def tow_clubs() -> Results:
    return analyse(read_study("datasets/tow-clubs"))


def test_in_the_tow_clubs_the_tables_of_influence_and_of_claims_agree(tow_clubs: Results) -> None:
    spells = tow_clubs.spells
    claim: Any = tow_clubs.chapters["claim"]
    pooling: Any = tow_clubs.chapters["pooling"]
    own = {
        frozenset(spells.unit[getattr(spells, s.group) == s.name].tolist()): s.state
        for s in claim.subsets
    }
    same = 0
    for line in pooling.influence:
        if line.kind not in ("source", "build"):
            continue
        left = frozenset(spells.unit[getattr(spells, line.kind) != line.name].tolist())
        if left in own:
            same += 1
            assert own[left] == line.figure.verdict, line.name
    assert same == 2  # two builds, each alone when the other is left out
    standard = spells.build == "standard"
    assert len(np.unique(spells.unit[standard])) == 107
    (line,) = [s for s in claim.subsets if s.name == "standard"]
    assert line.state == "contradicted"
    assert line.failure_low > 1.0 - claim.target
