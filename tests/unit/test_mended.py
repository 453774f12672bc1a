"""Hours of overhaul count what an overhaul mends; the claim counts every failure in question."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from advice_fleets import made_settings

from fleetstats.advice.advise import advise_hours
from fleetstats.advice.mended import all_mended, mended_lives, mended_words
from fleetstats.chapters.answer.words import say_band
from fleetstats.chapters.causes.compute import advise_causes
from fleetstats.chapters.page_grid.compute import chapter_tabulated
from fleetstats.document.tabulated import Readout, Tabulated
from fleetstats.spells import Event, Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.groups.causes import count_as
from fleetstats.survival.weibull.fit_weibull import try_fit


def settings(*spared: str, claim: float | None = 800.0) -> Settings:
    return made_settings(
        question={"not_renewed_causes": spared}, study={"claimed_interval_h": claim}
    )


def fleet(n: int = 400) -> Spells:
    """Bearings wear out; ignition fails at random; one failure in eight has no cause."""
    rng = np.random.default_rng(3)
    wear, chance = 1500 * rng.weibull(4, n), 3000 * rng.exponential(size=n)
    stop = rng.uniform(300, 2000, n)
    end = np.minimum(np.minimum(wear, chance), stop)
    cause = np.where(wear < chance, "Crank-bearing", "Ignition")
    cause = np.where(rng.random(n) < 0.125, "", cause)
    failed = end < stop
    return Spells.of(np.zeros(n), end, failed, cause=np.where(failed, cause, ""))


def test_the_hours_are_those_of_the_mended_failures_alone_and_the_verdict_that_of_all() -> None:
    spells, s = fleet(), settings("ignition")
    aimed = mended_lives(spells, s)
    assert aimed is not None
    ignition = spells.failed & (spells.cause == "Ignition")
    assert aimed.n_failed == spells.n_failed - ignition.sum()
    assert (aimed.event[ignition] == Event.COMPETING).all()
    assert (aimed.failed == (spells.failed & ~ignition)).all()  # no cause given: counted
    got = advise_hours(spells, try_fit(spells), s)
    alone = advise_hours(aimed, try_fit(aimed), settings())
    every = advise_hours(spells, try_fit(spells), settings())
    assert (got.n_failed, got.n_mended) == (spells.n_failed, aimed.n_failed)
    for name in ("plan_from", "expect_at", "not_beyond"):
        assert getattr(got.overhaul_band, name) == getattr(alone.overhaul_band, name)
    assert got.reliability.life == alone.reliability.life
    assert got.overhaul_band.plan_from.hours > every.overhaul_band.plan_from.hours
    assert got.verdict == every.verdict
    assert got.verdict != alone.verdict
    assert every.n_mended is None


def test_every_sentence_on_hours_says_what_it_counts() -> None:
    spells, s = fleet(), settings("ignition")
    got = advise_hours(spells, try_fit(spells), s)
    told = mended_words(mended_lives(spells, s), spells)
    assert told == (
        f"Of {spells.n_failed:g} failures in question this counts the {got.n_mended:g} that an "
        "overhaul mends."
    )
    for part in (got.wear_out, got.risk, got.reliability, got.cost, got.overhaul_band):
        assert part.sentence.endswith(told)
    assert say_band(got.overhaul_band).endswith(told)
    assert "mends" not in got.verdict.sentence


def test_causes_that_an_overhaul_mends_or_nobody_saw_change_nothing() -> None:
    spells = fleet()
    assert mended_lives(spells, settings()) is None
    assert mended_lives(spells, settings("gearbox")) is None
    got = advise_hours(spells, try_fit(spells), settings("gearbox"))
    assert got == advise_hours(spells, try_fit(spells), settings())


def test_where_overhaul_mends_no_failure_seen_the_hours_are_those_of_none() -> None:
    spells = fleet()
    spells = count_as(spells, spells.cause == "Ignition")
    got = advise_hours(spells, try_fit(spells), settings("Ignition"))
    assert got.n_mended == 0
    assert got.overhaul_band.state != "answered"
    assert got.verdict.reliability.estimate is not None


def test_the_chapter_on_causes_holds_the_main_band_and_that_of_all() -> None:
    spells, s = fleet(), settings("ignition")
    got = advise_hours(spells, try_fit(spells), s, curves=False)
    chapter = advise_causes(spells, s)
    main = next(r for r in chapter.renewed if r.how == "all")
    assert main.figure.plan_from_h == got.overhaul_band.plan_from.hours
    every = advise_hours(spells, try_fit(spells), all_mended(s), curves=False)
    assert chapter.base.plan_from_h == every.overhaul_band.plan_from.hours
    assert chapter.base.life_h == pytest.approx(every.reliability.life.estimate)


def test_the_page_that_answers_back_starts_at_the_same_hours_and_the_same_verdict() -> None:
    spells, s = fleet(120), settings("ignition")
    s = replace(s, evidence=replace(s.evidence, resamples=300))
    fit = try_fit(spells)
    a = advise_hours(spells, fit, s)
    base = SimpleNamespace(spells=spells, fit=fit, settings=s, advice=a)
    tab = chapter_tabulated(base, {})  # type: ignore[arg-type]
    for part, edge in (
        ("low", a.overhaul_band.plan_from),
        ("estimate", a.overhaul_band.expect_at),
        ("high", a.overhaul_band.not_beyond),
    ):
        assert tab.look_up(find(tab, "Overhaul band", part))[0] == edge.hours
    low = tab.look_up(find(tab, "Share of engines", "low"))[0]
    assert low == pytest.approx(a.verdict.reliability.low, abs=1e-12)
    # one unreported failure more never moves the band later
    band = find(tab, "Overhaul band", "low")
    sizes = {k.key: len(k.values) for k in tab.knobs}
    hours = band.values.reshape([sizes[x] for x in band.axes])
    assert (np.diff(np.nan_to_num(hours), axis=-1) <= 0).all()


def find(tab: Tabulated, row: str, part: str) -> Readout:
    return next(r for r in tab.readings if r.row.startswith(row) and r.part == part)
