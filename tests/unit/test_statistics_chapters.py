"""Chapters on causes, pooling, covariates and recurrent events: what they answer and refuse."""

from __future__ import annotations

import json
from types import SimpleNamespace

import numpy as np
import pytest
from advice_fleets import made_settings

from fleetstats.advice.key_figures import AdviceFigure, advising
from fleetstats.chapters.causes.compute import advise_causes
from fleetstats.chapters.causes.section import compose_causes
from fleetstats.chapters.causes.words import _leading
from fleetstats.chapters.covariates.compute import advise_effects, numbers_of
from fleetstats.chapters.covariates.section import compose_regression
from fleetstats.chapters.groups.compute import advise_pooling
from fleetstats.chapters.groups.influence import rank_engines
from fleetstats.chapters.groups.section import compose_pooling
from fleetstats.chapters.growth.section import compose_growth
from fleetstats.chapters.recurrence.compute import advise_recurrence
from fleetstats.chapters.recurrence.section import compose_recurrent
from fleetstats.core.errors import FitError
from fleetstats.document.document import KINDS, ROLES, TONES, Figure, Section, Statement, Table
from fleetstats.document.words import FORBIDDEN
from fleetstats.records.life import LifeRow
from fleetstats.spells import Event, Spells
from fleetstats.spells.histories import Histories
from fleetstats.survival.groups.causes import (
    UNKNOWN,
    allocate_unknown,
    cause_of,
    count_as,
    fit_causes,
)
from fleetstats.survival.groups.growth import estimate_growth
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.vocabulary.finding import Origin


def quick(spells: Spells) -> AdviceFigure:
    """Stand in for the study's whole advice: the estimated B10 life."""
    try:
        life = float(fit_weibull(spells).quantile(0.1))
    except FitError:
        life = None
    return AdviceFigure(
        n_failed=spells.n_failed, state="answered" if life else "not-enough-evidence",
        plan_from_h=life, expect_at_h=life, not_beyond_h=life, life_h=life, life_low_h=life,
        shape=None, verdict="",
    )  # fmt: skip


def causes_fleet(seed: int = 1, n: int = 240) -> Spells:
    """Bearings wear out (shape 4), accessories fail at random; some causes were not written."""
    rng = np.random.default_rng(seed)
    wear, chance = 1500 * rng.weibull(4, n), 4000 * rng.exponential(size=n)
    stop = rng.uniform(300, 2000, n)
    end = np.minimum(np.minimum(wear, chance), stop)
    cause = np.where(end == stop, "", np.where(wear < chance, "Crank-bearing", "ignition"))
    cause = np.where((cause != "") & (rng.random(n) < 0.2), "unknown", cause)
    event = np.where(end == stop, Event.CENSORED, Event.FAILED)
    source = np.array(["north", "south", "west"])[rng.integers(0, 3, n)]
    build = np.array(["A", "B"])[rng.integers(0, 2, n)]
    return Spells.of(
        np.zeros(n), end, event, cause=cause, source=source, build=build,
        unit=[f"e{i}" for i in range(n)],
    )  # fmt: skip


SPARED = made_settings(question={"not_renewed_causes": ("Ignition",)})


def test_causes_are_compared_without_clerks_differences() -> None:
    spells = Spells.of(
        np.zeros(5), [1, 2, 3, 4, 5], list(map(Event, [1, 2, 1, 1, 0])),
        cause=["Crank-bearing", "crank bearing", "?", "gear", "sold"],
    )  # fmt: skip
    assert cause_of(spells).tolist() == ["Crank-bearing", "Crank-bearing", UNKNOWN, "gear", ""]
    one = count_as(spells, [True, True, False, False, False])
    assert one.event.tolist() == [1, 1, 2, 2, 0]


def test_a_fault_found_at_a_check_censors_others_at_mid_interval() -> None:
    spells = Spells.of([0, 0], [100, 200], [1, 1], exit_lower=[50, 200], cause=["a", "b"])
    other = count_as(spells, [False, True])
    assert (other.exit_lower[0], other.exit_upper[0]) == (75, 75)


def test_wear_is_told_from_chance() -> None:
    fits = {c.cause: c for c in fit_causes(causes_fleet(), not_renewed=("ignition",))}
    assert abs(fits["Crank-bearing"].fit.shape - 4) < 0.8
    assert abs(fits["ignition"].fit.shape - 1) < 0.35
    assert (fits["ignition"].renewed, fits["Crank-bearing"].renewed) == (False, True)


def test_unknown_causes_all_none_and_shared_out() -> None:
    spells = causes_fleet()
    label = cause_of(spells)
    wanted = label == "Crank-bearing"
    n_unknown = (label == UNKNOWN).sum()
    known = (wanted.sum(), (label == "ignition").sum())
    every, n_all = allocate_unknown(spells, wanted, "all")
    none, n_none = allocate_unknown(spells, wanted, "none")
    part, n_part = allocate_unknown(spells, wanted, "proportional")
    assert (every.n_failed, none.n_failed) == (known[0] + n_unknown, known[0])
    share = known[0] / sum(known)
    assert part.n_failed == pytest.approx(known[0] + share * n_unknown)
    assert (n_all, n_none) == (n_unknown, 0)
    assert n_part == pytest.approx(share * n_unknown)
    # No hour is lost: each unknown life is split by weight, not in time.
    assert part.exposure_h == pytest.approx(spells.exposure_h)
    lives = [float(fit_weibull(s).quantile(0.1)) for s in (every, part, none)]
    assert lives == sorted(lives)
    assert allocate_unknown(spells.select(label == UNKNOWN), wanted[label == UNKNOWN],
                            "proportional") is None  # fmt: skip
    with pytest.raises(FitError, match="some"):
        allocate_unknown(spells, wanted, "some")


def test_advice_uses_only_what_overhaul_mends() -> None:
    got = advise_causes(causes_fleet(), SPARED, advise=quick)
    assert [r.how for r in got.renewed] == ["all", "none", "proportional"]
    life = {r.how: r.figure.life_h for r in got.renewed}
    assert got.base.life_h < life["all"] < life["proportional"] < life["none"]
    assert {w.cause for w in got.without} == {"Crank-bearing", "ignition"}
    without = next(w for w in got.without if w.cause == "ignition")
    assert without.figure.life_h > got.base.life_h
    assert without.change_h == pytest.approx(without.figure.life_h - got.base.life_h)
    assert "does not renew ignition" in got.sentence
    assert {c.code for c in got.cautions} >= {"independent-causes", "cause-unknown"}


@pytest.mark.parametrize(
    ("failed", "said"),
    [((9, 4), "Most failures in question are of a: 9 of 17"),
     ((8, 4), "The leading cause of failures in question is a: 8 of 17"),
     ((6, 6), "The leading causes of failures in question are a and b: 6 of 17 each")],
)  # fmt: skip
def test_most_failures_are_more_than_half(failed: tuple[int, int], said: str) -> None:
    known = [SimpleNamespace(cause=c, n_failed=n) for c, n in zip("ab", failed, strict=True)]
    assert _leading(known, 17.0) == said  # type: ignore[arg-type]


def test_no_cause_known_gives_no_chapter() -> None:
    assert advise_causes(Spells.of([0, 0], [5, 6], [1, 0]), SPARED, advise=quick) is None


def test_a_cause_with_one_failure_gets_a_bound_not_a_shape() -> None:
    spells = causes_fleet()
    cause = spells.cause.copy()
    cause[np.flatnonzero(spells.failed)[0]] = "gear"
    got = advise_causes(spells.replace(cause=cause), SPARED, advise=quick)
    gear = next(x for x in got.lines if x.cause == "gear")
    assert gear.shape is None
    assert gear.life.low is not None
    few = next(c for c in got.cautions if c.code == "few-failures")
    assert "gear 1" in few.value
    assert "must not be added up" in few.text


def test_pooling_chapter_speaks_of_each_group_and_of_what_carries_it() -> None:
    settings = made_settings()
    got = advise_pooling(causes_fleet(), settings, advise=quick)
    assert [g.by for g in got.groups] == ["build", "source"]
    assert len(got.groups[0].ratios) == 1
    assert {r.against for r in got.groups[1].ratios} == {"all others"}
    kinds = [x.kind for x in got.influence]
    assert kinds == ["build"] * 2 + ["source"] * 3 + ["engine"] * 3
    sources = [x for x in got.influence if x.kind == "source"]
    assert sum(x.n_out for x in sources) == 240
    for x in sources:
        assert x.figure.n_failed + x.n_failed_out == got.base.n_failed
        assert x.n_failed_out > 0
    assert got.entry.reading == "no-late-entry"
    assert got.settled is None
    # The build without a difference, 90 % band: never called alike unless wholly inside.
    for g in got.groups:
        for r in g.ratios:
            inside = r.low >= 0.8 and r.high <= 1.25
            assert (r.verdict == "inside") == inside


def test_builds_are_compared_but_a_new_one_is_not_drawn_from_the_old() -> None:
    got = advise_pooling(causes_fleet(), made_settings(), advise=quick)
    build, source = got.groups
    assert build.between is None
    assert "by design" in build.no_between
    assert source.between is not None


def test_late_joiners_are_looked_at_where_the_check_does_not_settle_it() -> None:
    spells = causes_fleet()
    late = np.where(np.arange(len(spells)) % 3 == 0, 0.4 * spells.exit_lower, 0.0)
    plain = advise_pooling(spells.replace(entry=late), made_settings(), advise=quick)
    assert (plain.settled is None) == (plain.entry.reading == "not-related")
    few = spells.replace(
        entry=late, event=np.where(np.arange(len(spells)) % 40 == 0, spells.event, 0)
    )
    open_ = advise_pooling(few, made_settings(), advise=quick)
    assert open_.entry.reading == "too-few"
    assert open_.settled.n_failed <= open_.base.n_failed
    # Every third engine joined late; the others were followed from new.
    assert open_.from_new.life_h != open_.base.life_h


def test_pooling_without_failures_cannot_tell() -> None:
    idle = Spells.of(
        np.zeros(40), np.linspace(50, 1400, 40), np.zeros(40), source=["a", "b"] * 20,
        unit=[f"e{i}" for i in range(40)],
    )  # fmt: skip
    got = advise_pooling(idle, made_settings(), advise=quick)
    source = got.groups[0]
    assert source.verdict == "cannot-tell"
    assert source.between is None
    assert "failures in at least two" in source.no_between
    assert "cannot tell" in got.sentence
    # With no fit to move, the engines with most hours come first.
    assert next(x.name for x in got.influence if x.kind == "engine") == "e39"
    section = compose_pooling(got)
    text = " ".join(b.text for b in section.blocks if isinstance(b, Statement))
    assert "at least" in text
    assert "h each" in text


def test_the_only_failure_weighs_most() -> None:
    spells = Spells.of(
        np.zeros(6), [100, 300, 500, 700, 900, 400], [0, 0, 0, 0, 0, 1],
        unit=list("abcdef"),
    )  # fmt: skip
    ranked, compared = rank_engines(spells, 0.1)
    assert (ranked[0], compared) == ("f", 6)


def test_the_study_s_own_advice_is_the_default() -> None:
    """One real advice, to hold the two floors together."""
    spells = causes_fleet(n=60)
    figure = advising(made_settings(), resamples=200)(spells)
    assert figure.n_failed == spells.n_failed
    assert figure.plan_from_h is not None
    assert figure.verdict in ("supported", "not-yet-shown", "contradicted", "hours-do-not-tell")


def row(**extra: float) -> LifeRow:
    return LifeRow(
        origin=Origin(file="a.csv"), engine="e", exit_h=1.0, ending="running", extra=extra
    )


def test_effects_answer_refuse_or_stay_silent() -> None:
    spells = causes_fleet()
    rng = np.random.default_rng(3)
    boost = rng.normal(40, 3, len(spells))
    fast = spells.replace(
        exit_lower=spells.exit_lower * np.exp(-0.1 * (boost - 40)),
        exit_upper=spells.exit_upper * np.exp(-0.1 * (boost - 40)),
    )
    settings = made_settings()
    got = advise_effects(fast, {"boost": boost}, settings)
    assert got.regression.treatment == "plain"
    assert got.regression.factors[0].reading == "shorter"
    assert "boost per 2: life times 0.8" in got.sentence
    assert got.hazards.ratios[0].low > 1
    few = fast.replace(event=np.where(np.arange(len(fast)) % 60 == 0, fast.event, 0))
    none = advise_effects(few, {"boost": boost}, settings)
    assert none.regression.treatment == "refused"
    assert none.hazards is None
    assert "No effects are given" in none.sentence
    idle = advise_effects(fast.replace(event=np.zeros(len(fast))), {"boost": boost}, settings)
    assert idle.regression is None
    assert "No failures" in idle.reason
    assert advise_effects(fast.replace(build=[""] * len(fast)), {}, settings) is None
    numbers = numbers_of((row(boost=1.0), row()), ("boost",))
    assert numbers["boost"][0] == 1.0
    assert np.isnan(numbers["boost"][1])


def histories() -> Histories:
    rng = np.random.default_rng(2)
    unit = [f"e{i}" for i in range(30)]
    n = rng.poisson(1.2, 30)
    names = np.repeat(unit, n)
    m = len(names)
    return Histories.of(
        unit, rng.choice([0.0, 100.0], 30), rng.uniform(800, 1500, 30), names,
        rng.uniform(101, 790, m), event_cost=rng.gamma(2, 400, m),
        event_kind=np.where(rng.random(m) < 0.7, "cylinder", "magneto"),
        build=np.where(np.arange(30) % 2, "A", "B"),
    )  # fmt: skip


def test_recurrence_counts_kinds_builds_and_cost() -> None:
    h = histories()
    got = advise_recurrence(h, made_settings(cost={"currency": "EUR"}))
    assert [x.kind for x in got.lines] == ["all events", "cylinder", "magneto"]
    assert got.lines[0].n_events == got.lines[1].n_events + got.lines[2].n_events
    assert got.lines[0].count.mean[-1] == pytest.approx(
        sum(x.count.at(h.end_h.max()) for x in got.lines[1:])
    )
    assert got.lines[0].cost is not None
    assert [b.build for b in got.builds] == ["A", "B"]
    r = got.lines[0].per_1000_h
    assert r.estimate == pytest.approx(1000 * len(h.event_h) / h.exposure_h)
    assert r.low < r.estimate < r.high
    assert advise_recurrence(None, made_settings()) is None


def test_the_band_without_what_overhaul_does_not_mend_is_told_beside_the_one_with_it() -> None:
    got = advise_causes(causes_fleet(), SPARED, advise=quick)
    (caution,) = (c for c in got.cautions if c.code == "not-renewed")
    ignition = next(x for x in got.lines if x.cause == "ignition")
    assert caution.value.startswith(f"{ignition.n_failed:g} of ")
    assert f"would be {50 * int(got.base.plan_from_h / 50):,} h" in caution.text
    every = advise_causes(causes_fleet(), made_settings(), advise=quick)
    assert "not-renewed" not in [c.code for c in every.cautions]


def test_each_cause_s_life_stands_between_no_and_every_failure_of_unknown_cause() -> None:
    got = advise_causes(causes_fleet(), made_settings(), advise=quick)
    label = cause_of(causes_fleet())
    for x in got.lines:
        if x.cause == UNKNOWN:
            assert x.life_shared is None
            assert x.life_all is None
            continue
        assert x.life_all.estimate < x.life_shared.estimate < x.life.estimate
        every, _ = allocate_unknown(causes_fleet(), label == x.cause, "all")
        assert x.life_all.estimate == pytest.approx(float(fit_weibull(every).quantile(0.1)))
    section = compose_causes(got)
    table = next(b for b in section.blocks if isinstance(b, Table) and b.key == "causes-unknown")
    assert [row[0] for row in table.rows] == [x.cause for x in got.lines if x.cause != UNKNOWN]
    known = causes_fleet().select(label != UNKNOWN)
    every_known = compose_causes(advise_causes(known, made_settings(), advise=quick))
    assert "causes-unknown" not in [b.key for b in every_known.blocks if isinstance(b, Table)]


def test_a_shape_is_printed_with_the_limits_that_belong_to_it() -> None:
    """Engines with short watches had more events: one law for all lies outside exact limits."""
    at = (np.arange(30) + 0.5) / 30
    units, ends = ["a", "b", "c", "d"], [100.0, 100.0, 1000.0, 1000.0]
    hours = [*100 * at, *100 * at, *[200, 500, 900] * 2]
    h = Histories.of(units, [0.0] * 4, ends, np.repeat(units, [30, 30, 3, 3]), hours)
    section = compose_recurrent(advise_recurrence(h, SPARED))
    table = next(b for b in section.blocks if isinstance(b, Table) and b.key == "recurrent-pace")
    for row in table.rows:
        assert row[2] < row[1] < row[3]
    texts = [b.text for b in section.blocks if isinstance(b, Statement)]
    assert any("the engines differ in pace" in t for t in texts)


@pytest.fixture(scope="module")
def sections() -> dict[str, Section]:
    spells = causes_fleet()
    rng = np.random.default_rng(3)
    late = np.minimum(rng.choice([0.0, 100.0], len(spells)), 0.5 * spells.exit_lower)
    spells = spells.replace(entry=late)
    settings = SPARED
    return {
        "causes": compose_causes(advise_causes(spells, settings, advise=quick)),
        "pooling": compose_pooling(advise_pooling(spells, settings, advise=quick)),
        "recurrent": compose_recurrent(advise_recurrence(histories(), settings)),
        "growth": compose_growth(estimate_growth(spells, ("A", "B"))),
        "regression": compose_regression(
            advise_effects(spells, {"boost": rng.normal(size=len(spells))}, settings)
        ),
    }


def test_sections_say_what_they_may_and_are_whole(sections: dict[str, Section]) -> None:
    keys = set()
    for name, section in sections.items():
        assert section.key == name
        assert any(isinstance(b, Statement) for b in section.blocks)
        for block in section.blocks:
            if isinstance(block, Statement):
                assert not FORBIDDEN.search(block.text)
                assert block.tone in TONES
            elif isinstance(block, Table):
                assert block.key not in keys
                keys.add(block.key)
                assert block.rows
                assert {len(r) for r in block.rows} == {len(block.columns)}
                assert block.see
                assert not FORBIDDEN.search(block.see)
                assert all(not isinstance(v, float) or np.isfinite(v) for r in block.rows
                           for v in r)  # fmt: skip
            elif isinstance(block, Figure):
                assert block.see
                assert block.alt
                for panel in block.panels:
                    for layer in panel.layers:
                        assert layer.kind in KINDS
                        assert layer.role in ROLES
    assert {"causes", "pooling-source", "influence", "recurrent-kinds", "growth-builds",
            "life-factors"} <= keys  # fmt: skip


@pytest.mark.parametrize(
    ("name", "key"),
    [("pooling", "pooling-source"), ("pooling", "influence"), ("recurrent", "mean-cumulative")],
)
def test_figures_can_be_drawn(sections: dict[str, Section], name: str, key: str) -> None:
    from fleetstats.report.figures import draw_figure

    figure = next(b for b in sections[name].blocks if isinstance(b, Figure) and b.key == key)
    assert "<svg" in draw_figure(figure).svg


def test_values_are_plain_json() -> None:
    spells = causes_fleet()
    settings = made_settings()
    for value in (
        advise_causes(spells, settings, advise=quick),
        advise_pooling(spells, settings, advise=quick),
        advise_recurrence(histories(), settings),
        advise_effects(spells, {}, settings),
    ):
        text = json.dumps(value.to_dict(), allow_nan=False)
        assert text.startswith('{"schema": "fleetstats/')
        assert repr(value)
