"""Failures that stand in the records and in no life: placed, bounded beside, and never passed over.

Closed forms by hand; the rest holds one way of asking to another. No outside source.
"""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from advice_fleets import made_fleet, made_settings, reference_fleet

from fleetstats.advice.advise import advise_hours, aimed_lives
from fleetstats.advice.equivalents import life_equivalents, poisson_allowance, shape_grid
from fleetstats.advice.judge import is_supported, judge_claim
from fleetstats.advice.left_out import held_to_left_out, say_beside, say_left_out, with_left_out
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.results import Results
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.cautions.rules import caution_one_unit
from fleetstats.chapters.claim.compute import advise_claim
from fleetstats.chapters.clocks_and_dates.compute import run_rows
from fleetstats.chapters.compose import compose_checked
from fleetstats.chapters.consistency.compare import find_sights
from fleetstats.chapters.consistency.places import list_texts
from fleetstats.chapters.hidden.compute import Hidden
from fleetstats.chapters.plan.compute import plan_evidence
from fleetstats.document.document import Document
from fleetstats.portfolio import family as family_module
from fleetstats.spells import Event, Spells
from fleetstats.spells.build import Built
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.placings import SPREAD, as_seen, place_left_out, placed_ages
from fleetstats.spells.scenarios import scale_hours
from fleetstats.studies import analyse as analyse_module
from fleetstats.studies import by_chunks as by_chunks_module
from fleetstats.studies.analyse import analyse
from fleetstats.studies.compare.attribution import walk_advice
from fleetstats.studies.main_results import fit_or_reason
from fleetstats.study.study import read_study
from fleetstats.survival.weibull.fit_weibull import try_fit

QUIET = Path(__file__).parents[2] / "datasets" / "quiet-fleet"


def told(row: int = 2, low: float = 0.0, high: float = 1450.0, **more: object) -> LeftOut:
    return LeftOut(
        **{"file": "a.csv", "row": row, "low_h": low, "high_h": high, "reason": "has no hours"}
        | more  # type: ignore[arg-type]
    )


# -- on spells -------------------------------------------------------------------------------------


def test_they_go_with_the_spells_and_a_part_cut_in_two_has_them_once() -> None:
    lives = Spells.of(0, [100, 200, 300], [0, 1, 0], build=["A", "B", "B"])
    lives = lives.with_left_out([told(2), told(3)])
    assert lives.select([0]).n_left_out == 2
    assert lives.replace(entry=[1, 1, 1]).n_left_out == 2
    assert lives.split_at(150.0).n_left_out == 2
    assert lives.join(Spells.of(0, 50, [0])).n_left_out == 2
    assert lives.join(lives.with_left_out([told(4, count=3)])).n_left_out == 5
    assert scale_hours(lives, 2.0).left_out[0].high_h == 2900.0
    assert "left_out" not in lives.to_dict()


def test_one_of_no_known_group_counts_for_each_and_one_of_a_group_for_its_own() -> None:
    lives = Spells.of(0, [100, 200, 300], [0, 1, 0], build=["A", "B", "B"], unit=["1", "2", "3"])
    mine, other = told(2, build="b ", engine="E-01"), told(3, build="misspelt", engine="2")
    lives = lives.with_left_out([mine, other, told(4)])
    assert lives.of_group("build", "A").left_out == (other, told(4))
    assert lives.of_group("build", "B").left_out == (mine, other, told(4))
    assert lives.of_group("build", "B", others=True).left_out == (other, told(4))
    assert len(lives.of_group("build", "B", others=True)) == 1
    assert lives.of_group("unit", "2", others=True).left_out == (mine, told(4))


def test_a_build_gives_its_spells_what_it_leaves_out() -> None:
    built = built_of()
    assert built.spells.left_out == ()
    more = replace(built, left_out=(told(engine="101"),))
    assert more.spells.left_out == (told(engine="101"),)
    assert replace(more, rows=(), verdicts=()).spells.left_out == (told(),)  # spells name none


@functools.cache
def built_of() -> Built:
    return analyse_module.lives_of(read_study(QUIET))


# -- placing ---------------------------------------------------------------------------------------


def test_ages_run_from_the_least_to_the_greatest_that_each_can_have() -> None:
    lives = Spells.of(0, [1000.0], [0])
    which = (told(2, 400, 800), told(3, 0, 1000), told(4, 0, 0))
    at = [[float(a[0]) for a in placed_ages(lives, which, p)] for p in (0.0, 0.5, 1.0)]
    assert at == [[400, 10, 10], [600, 505, 505], [800, 1000, 1000]]  # none known: the oldest seen
    assert placed_ages(lives, (told(2, 0, 1000, count=2),), SPREAD)[0] == pytest.approx(
        [10 + 0.25 * 990, 10 + 0.75 * 990]
    )


def test_a_named_engine_is_cut_and_an_unnamed_one_adds_no_hours() -> None:
    lives = Spells.of([0, 100, 0], [900, 1000, 700], [0, 0, 1], unit=["E-1", "E-1", "E-2"])
    placed = place_left_out(lives, (told(2, engine="e01"),), 0.5)
    half = 0.5 * (14.5 + 1450)
    # both lives of E-1 are as long: the first is cut
    assert placed.exit_upper.tolist() == pytest.approx([half, 1000, 700, half])
    assert placed.event.tolist() == [0, 0, 1, 1]
    assert placed.n_left_out == 0
    assert placed.exposure_h == pytest.approx(half + 900 + 700, rel=1e-5)
    # the life of E-2 ended in the failure: another one of it is one more
    again = place_left_out(lives, (told(2, engine="E-2"), told(3)), 0.5)
    assert again.n_failed == 3
    assert again.exposure_h == pytest.approx(lives.exposure_h, rel=1e-5)
    # a failure before its watch began leaves no hours of that life, one past its end leaves all
    early = place_left_out(lives, (told(2, 50, 50, engine="E-1"),), 0.0)
    assert early.exposure_h == pytest.approx(50 + 900 + 700, rel=1e-5)
    late = place_left_out(lives, (told(2, 1200, 1200, engine="E-1"),), 0.0)
    assert late.exposure_h == pytest.approx(lives.exposure_h, rel=1e-5)


def test_of_a_row_of_many_engines_so_many_are_cut() -> None:
    lives = Spells.of(0, [500.0], [0], unit=["lot 7"], weight=[10.0])
    placed = place_left_out(lives, (told(2, 100, 100, engine="lot 7", count=3),), 0.0)
    assert placed.weight.sum() == 13
    assert placed.n_failed == 3
    assert placed.exposure_h == pytest.approx(7 * 500 + 3 * 100, rel=1e-4)


def test_few_failures_give_the_closed_form_without_the_hours_that_one_may_have_ended() -> None:
    fleet = reference_fleet()
    unit = str(fleet.unit[-1])
    lives = fleet.with_left_out([told(engine=unit), told(3, count=4)])
    low = low_of(lives)
    seen = as_seen(lives)
    assert seen.exit_upper.max() < fleet.exit_upper.max()
    grid = shape_grid(SETTINGS.evidence.shapes)
    n = life_equivalents(seen, grid, 1200.0).min()
    closed = math.exp(-poisson_allowance(5, 0.95) / n)
    assert low <= closed
    assert low == pytest.approx(closed, abs=0.02)  # the bound under the prior may be lower


SETTINGS = made_settings(
    claim=1200.0, targets={"accepted_failure_at_claim": 0.05, "reliability": 0.95}
)


def quoter(lives: Spells) -> Quoter:
    return Quoter.of(lives, try_fit(lives), SETTINGS)


def low_of(lives: Spells, hours: float = 1200.0) -> float:
    held = with_left_out(quoter(lives), Quantity.reliability(hours))
    assert held is not None
    assert held.estimate is None
    assert held.high is None
    return held.low or 0.0


# -- judged ----------------------------------------------------------------------------------------


@functools.cache
def turned() -> Spells:
    """A fleet whose claim is supported without the failures left out, and not with them."""
    return reference_fleet().with_left_out([told(count=5)])


def test_a_claim_is_supported_only_if_it_stands_with_them() -> None:
    lives = quoter(turned())
    judged = judge_claim(lives, 1200.0, 0.95)
    own = judge_claim(quoter(reference_fleet()), 1200.0, 0.95)
    assert own.word == "supported"
    assert own.with_left_out is None
    assert judged.word == "not-yet-shown"
    assert judged.because.startswith("5 further failures have no hours")
    assert judged.reliability == own.reliability
    assert judged.n_left_out == 5
    assert judged.failure_high_with_left_out == pytest.approx(1.0 - low_of(turned()))
    assert judged.failure_high_with_left_out > 0.05 > judged.failure_high
    assert not is_supported(lives, 1200.0, 0.95)
    one = reference_fleet().with_left_out([told()])
    still = judge_claim(quoter(one), 1200.0, 0.95)
    assert (still.word, still.n_left_out) == ("supported", 1)
    assert "also counting 1 further failure without hours" in still.because
    assert is_supported(quoter(one), 1200.0, 0.95)


def test_unreported_failures_come_on_top_of_them() -> None:
    def turning(*left_out: LeftOut) -> int | None:
        lives = reference_fleet().with_left_out(left_out)
        verdict = advise_hours(lives, None, SETTINGS, curves=False).verdict
        assert verdict is not None
        return verdict.hidden_to_turn

    assert turning() == 2
    assert turning(told()) == 1


def test_a_contradiction_stands_on_the_failures_counted() -> None:
    event = np.where(np.arange(260) % 5 == 0, int(Event.FAILED), 0)
    bad = reference_fleet().replace(event=event)
    words = [judge_claim(quoter(x), 1200.0, 0.95).word
             for x in (bad, bad.with_left_out([told(count=9)]))]  # fmt: skip
    assert words == ["contradicted", "contradicted"]


def test_every_way_to_judge_says_the_same() -> None:
    lives, fit = turned(), None
    claim = advise_claim(lives, SETTINGS, by=())
    advice = advise_hours(lives, fit, SETTINGS, curves=False)
    plan = plan_evidence(lives, SETTINGS)
    assert advice.verdict is not None
    assert claim.state == advice.verdict.word == "not-yet-shown"
    assert advice.verdict.turned_by_left_out
    assert claim.failure_high_with_left_out == advice.verdict.failure_high_with_left_out
    assert plan.state == "planned"
    assert plan.rule_hours_each is not None
    assert plan.rule_hours_each > 0.0
    assert "All of this counts 5 further failures without hours" in plan.sentence
    assert advice.reliability.life is not None
    assert claim.shown_to_h == advice.reliability.life.low
    held = held_to_left_out(quoter(lives), Quantity.life(0.05))
    assert held.low == pytest.approx(advice.reliability.life.low, rel=1e-12)
    run = run_rows("as stated", built_of().rows, SETTINGS, (told(count=5),))
    assert run is not None
    assert run.verdict == "not-yet-shown"


def test_each_answer_in_hours_takes_its_pessimistic_figure_with_them() -> None:
    settings = made_settings(
        claim=900.0, targets={"risk_per_check": 0.01}, cost={"ratio": 5.0},
        evidence={"resamples": 100},
    )  # fmt: skip
    fleet = made_fleet(150, shape=2.5, scale_h=2500.0, seed=1)
    fit = try_fit(fleet)
    more = fleet.with_left_out([told(low=500.0, high=1000.0, count=3)])
    a, b = (advise_hours(x, fit, settings) for x in (fleet, more))
    for own, held in zip((a.risk.chosen, *a.risk.table), (b.risk.chosen, *b.risk.table),
                         strict=True):  # fmt: skip
        assert own is not None
        assert held is not None
        assert held.age.low is not None
        assert own.age.low is None or held.age.low < own.age.low or own.age.low == 0.0
        assert (held.age.estimate, held.age.high) == (own.age.estimate, own.age.high)
    assert a.risk.at_claim is not None
    assert b.risk.at_claim is not None
    assert (b.risk.at_claim.high or 0.0) > (a.risk.at_claim.high or 1.0)
    for x, y in ((a.reliability.life, b.reliability.life), (a.cost.optimum, b.cost.optimum)):
        assert x is not None
        assert y is not None
        assert (y.low or 0.0) < (x.low or 0.0)
        assert (y.estimate, y.high) == (x.estimate, x.high)
    for answer in (b.risk, b.reliability, b.cost):
        assert answer.sentence.endswith(
            "The pessimistic figure counts 3 further failures without hours at their least "
            "favourable ages; the others do not."
        )
    assert (b.overhaul_band.plan_from.hours or 0.0) < (a.overhaul_band.plan_from.hours or 0.0)


def test_a_group_is_judged_with_its_own_and_those_of_no_known_group() -> None:
    build = np.where(np.arange(260) % 2 == 0, "A", "B")
    fleet = reference_fleet().replace(build=build)
    wide = made_settings(claim=700.0, targets={"accepted_failure_at_claim": 0.05})

    def words(*left_out: LeftOut) -> dict[str, tuple[str, int]]:
        claim = advise_claim(fleet.with_left_out(left_out), wide, by=("build",))
        return {s.name: (s.state, s.n_left_out) for s in claim.subsets}

    assert words() == {"A": ("supported", 0), "B": ("supported", 0)}
    assert words(told(build="A", count=9)) == {"A": ("not-yet-shown", 9), "B": ("supported", 0)}
    assert words(told(count=9)) == {"A": ("not-yet-shown", 9), "B": ("not-yet-shown", 9)}


def test_leaving_out_a_group_leaves_out_its_failures_too() -> None:
    source = np.where(np.arange(260) % 2 == 0, "club", "shop")
    fleet = reference_fleet().replace(source=source)
    lives = fleet.with_left_out([told(source="shop", count=9)])
    advice = advise_hours(fleet, None, made_settings(claim=700.0), curves=False)
    assert caution_one_unit(fleet, made_settings(claim=700.0), advice) == []
    (found,) = caution_one_unit(lives, made_settings(claim=700.0), advice)
    # the shop's failures are of the whole without the club, and of no engine
    assert found.text.startswith("The conclusion turns when source club is left out, and")


def test_hours_of_overhaul_leave_out_those_that_it_does_not_mend() -> None:
    cause = np.array(["gearbox" if i % 20 == 0 else "piston" for i in range(260)])
    event = np.where(np.arange(260) % 10 == 0, int(Event.FAILED), 0)
    fleet = reference_fleet().replace(event=event, cause=cause)
    s = made_settings(question={"not_renewed_causes": ("gearbox",)})
    lives = fleet.with_left_out([told(cause="Gearbox"), told(3, cause="piston"), told(4)])
    aim = aimed_lives(Quoter.of(lives, try_fit(lives), s))
    assert [x.row for x in aim.spells.left_out] == [3, 4]


def test_a_walk_from_last_year_gives_the_verdict_of_each_year() -> None:
    study = read_study(QUIET)
    old, new = built_of().spells, replace(built_of(), left_out=(told(count=5),)).spells
    steps = walk_advice(study, old, study, new).steps
    assert [s.figure.verdict for s in steps] == ["supported"] * 5 + ["not-yet-shown"]


def test_a_family_of_a_portfolio_has_them(monkeypatch: pytest.MonkeyPatch) -> None:
    from types import SimpleNamespace

    study, built = read_study(QUIET), replace(built_of(), left_out=(told(count=5),))
    family = SimpleNamespace(study=study, name="quiet", slug="quiet", digest="0")
    audit = SimpleNamespace(n_read=260, n_used=260, n_set_aside=0)
    row = family_module._row(family, audit, built)  # type: ignore[arg-type]
    assert (row.verdict, row.n_left_out) == ("not-yet-shown", 5)
    assert row.at_claim_with_left_out is not None


# -- words -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("left_out", "clause"),
    [
        ((), ""),
        ((told(),), "1 further failure has no hours"),
        ((told(count=4), told(3)), "5 further failures have no hours"),
        ((told(reason="was dropped by a merge", count=2),), "2 further failures were dropped by a "
         "merge"),
        ((told(), told(3, reason="is set aside")), "2 further failures are told by the records"),
    ],
)  # fmt: skip
def test_the_clause_says_how_many_and_why(left_out: tuple[LeftOut, ...], clause: str) -> None:
    assert say_left_out(left_out) == clause


def test_the_bound_beside_counts_one_or_several() -> None:
    assert say_beside("1 further failure has no hours", 1, 0.0402, 0.05) == (
        "1 further failure has no hours and is not in this figure: with it at its least favourable "
        "age at most 4.1 %"
    )
    assert say_beside("5 further failures have no hours", 5, 0.0502, 0.05) == (
        "5 further failures have no hours and are not in this figure: with them at their least "
        "favourable ages at most 5.1 %"
    )


NONE_SAID = re.compile(r"no [a-z ]*failures? (?:in question )?(?:was|were )?reported|\b0 failures")


@functools.cache
def report_of(n: int) -> tuple[Results, Document]:
    """Return a study of the quiet fleet whose records hold `n` failures without hours."""
    real = analyse_module.build_spells
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(analyse_module, "build_spells", leaving_out(real, n))
        results = analyse(read_study(QUIET))
    return compose_checked(results)


def leaving_out(real: Callable[..., Built], n: int) -> Callable[..., Built]:
    left_out = tuple(told(i + 2, 0.0, 1611.0) for i in range(n))
    return lambda *args: replace(real(*args), left_out=left_out)


def test_no_sentence_of_a_report_passes_them_over() -> None:
    results, document = report_of(5)
    said = [t for t in list_texts(results, document) if NONE_SAID.search(t.text)]
    assert said == []
    plain, report = report_of(0)
    assert [t for t in list_texts(plain, report) if NONE_SAID.search(t.text)]
    first = " ".join(document.answer)
    assert "5 further failures have no hours and are not in this figure" in first
    assert "no failures that could be counted, and 5 that could not" in first
    assert document.verdict == "not-yet-shown"
    prompt = " ".join(results.answer_lines())
    assert "5 further failures have no hours and are not in this figure" in prompt
    claim = str(results.chapters["claim"])
    assert claim.startswith("Not yet shown: ")
    assert "5 further failures have no hours and are not in this figure: with them" in claim
    assert "“None failed.” 5 further failures have no hours, but they happened" in claim


def test_a_supported_claim_carries_the_second_bound_too() -> None:
    _, document = report_of(1)
    assert document.verdict == "supported"
    assert "1 further failure has no hours and is not in this figure" in document.answer[0]
    assert not any(c.code == "figures-disagree" for c in document.cautions)


def test_the_report_gives_one_figure_for_the_bound_and_one_number_of_failures() -> None:
    results, document = report_of(5)
    sights = find_sights(results, document)
    for key in (
        "chance of failure by the claim, upper bound with failures left out",
        "failures left out",
    ):
        mine = [s for s in sights if s.key == key]
        assert len(mine) >= 8
        assert all(a.agrees(b) for a in mine for b in mine)
    failures = [s for s in sights if s.key == "failures"]
    assert len(failures) >= 8
    assert all(a.agrees(failures[0]) for a in failures)


def test_hidden_facts_count_them_at_the_ages_that_they_can_have() -> None:
    results, _ = report_of(5)
    h = results.chapters["hidden"]
    assert isinstance(h, Hidden)
    mine = [s for s in h.scenarios if s.axis == "left-out"]
    assert [s.n_failed for s in mine] == [5, 5, 5, 0]
    assert min(s.hours_low for s in mine) == pytest.approx(h.base_hours)
    assert mine[-1].hours_low > h.base_hours
    assert (h.shown, mine[-1].shown) == (False, True)
    assert "They count 5 further failures without hours" in h.sentence
    plain, _ = report_of(0)
    assert not any(s.axis == "left-out" for s in plain.chapters["hidden"].scenarios)  # type: ignore[attr-defined]


def test_the_page_that_answers_back_says_the_studys_word() -> None:
    results, _ = report_of(5)
    grid = results.chapters["tabulated"]
    row = next(r for r in grid.readings if r.row.startswith("The same, counting 5"))  # type: ignore[attr-defined]
    verdict = results.advice.verdict
    assert verdict is not None
    assert verdict.with_left_out is not None
    assert grid.look_up(row)[0] == pytest.approx(verdict.with_left_out.low, rel=1e-9)  # type: ignore[attr-defined]
    word = next(r for r in grid.readings if r.part == "word")  # type: ignore[attr-defined]
    assert grid.look_up(word)[0] == "not yet shown"  # type: ignore[attr-defined]


def test_by_chunks_the_verdict_is_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(by_chunks_module, "_built", leaving_out(by_chunks_module._built, 5))
    results = analyse(read_study(QUIET), chunks=True)
    whole, _ = report_of(5)
    assert results.advice.verdict is not None
    assert whole.advice.verdict is not None
    assert results.advice.verdict.word == "not-yet-shown"
    a, b = results.advice.verdict.with_left_out, whole.advice.verdict.with_left_out
    assert a is not None
    assert b is not None
    assert a.low == pytest.approx(b.low, rel=1e-9)
    assert "5 further failures have no hours" in str(results.chapters["claim"])


def test_a_fleet_of_one_engine_that_is_said_to_have_failed_shows_nothing() -> None:
    one = Spells.of(0, [1000.0], [0], unit=["E-1"]).with_left_out([told(high=1000.0, engine="E1")])
    judged = judge_claim(quoter(one), 500.0, 0.95)
    assert judged.word == "not-yet-shown"
    assert judged.failure_high_with_left_out == pytest.approx(1.0, abs=1e-3)
    assert fit_or_reason(one)[0] is None
    assert advise_hours(one, None, SETTINGS, curves=False).overhaul_band.plan_from.hours is None
