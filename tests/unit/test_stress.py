"""The claim tried on made-up fleets: the verdict's own rule, reproducible, and said honestly."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from made_lives import DAY, before, life

import fleetstats as fs
from fleetstats.advice.judge import is_supported, judge_claim
from fleetstats.advice.quoted import Quoter
from fleetstats.chapters.compose import compose_checked
from fleetstats.chapters.stress import Stress, StressedTruth, stress_claim, with_stress
from fleetstats.chapters.stress.calendar import recent_from
from fleetstats.chapters.stress.chapter import chapter_stress
from fleetstats.chapters.stress.compute import FleetBlock, made_fleet, try_fleets
from fleetstats.chapters.stress.section import compose_stress
from fleetstats.chapters.stress.words import how_often, stress_sentence
from fleetstats.cli import main
from fleetstats.core.crew import Crew
from fleetstats.core.errors import SettingError
from fleetstats.spells import Spells
from fleetstats.study.settings import EvidenceKeys, HoursKeys, Settings, StudyKeys, TargetKeys
from fleetstats.survival.simulated.truths import TRUTHS, scale_to
from fleetstats.survival.simulated.watch import watch_of

DATASETS = Path(__file__).parents[2] / "datasets"
SETTINGS = Settings(
    study=StudyKeys(title="made", analysis_date=DAY, claimed_interval_h=1000.0, seed=7)
)


def design(n: int = 120) -> tuple[Spells, tuple]:
    """Return a small fleet, some of it failed, of three sources, with its rows."""
    k = np.arange(n)
    stop = np.linspace(60.0, 1800.0, n)
    failed = k % 11 == 5
    rows = tuple(
        life(f"E-{i}", float(stop[i]), "failed" if failed[i] else "running",
             in_service=before(3000), last_reading=before(30))
        for i in range(n)
    )  # fmt: skip
    source = np.array(["a", "b", "c"])[k % 3]
    return Spells.of(0, stop, failed, source=source), rows


def tried(fleets: int = 6, settings: Settings = SETTINGS, crew: Crew | None = None) -> Stress:
    spells, rows = design()
    return stress_claim(spells, rows, fs.fit_weibull(spells), settings, fleets=fleets, crew=crew)


def test_counts_are_those_of_a_plain_loop_through_the_verdict() -> None:
    spells, rows = design()
    fit = fs.fit_weibull(spells)
    told = tried(fleets=25)
    watch = watch_of(spells, recent_from(rows, SETTINGS)[0])
    for i, row in enumerate(told.truths):
        j = next(j for j, t in enumerate(TRUTHS) if t.key == row.key)
        block = FleetBlock(
            truth=j, name=f"{row.key} 0.1", first=0, last=25, watch=watch, settings=SETTINGS,
            scaled=scale_to(TRUTHS[j], 0.1, 1000.0, fit.shape), hours=1000.0, target=0.9,
        )  # fmt: skip
        words = []
        for k in range(25):
            fleet = made_fleet(block, k)
            own = fs.fit_weibull(fleet) if fleet.n_failed else None
            lives = Quoter.of(fleet, own, SETTINGS)
            words.append(judge_claim(lives, 1000.0, 0.9).word)
            # asked the other way: a claim that is contradicted is never supported besides
            assert (words[-1] == "supported") == is_supported(lives, 1000.0, 0.9)
        assert row.supported == words.count("supported"), row.key
        assert row.contradicted == words.count("contradicted"), row.key
        assert [s.word for s in try_fleets(replace(block, last=4))] == words[:4]
        if i == 3:
            break


def test_one_seed_gives_one_answer_whoever_works() -> None:
    assert tried().to_dict() == tried().to_dict()
    assert tried().to_dict() == tried(crew=Crew(workers=2)).to_dict()
    other = replace(SETTINGS, study=replace(SETTINGS.study, seed=8))
    assert tried().to_dict()["truths"] != tried(settings=other).to_dict()["truths"]


def test_more_fleets_begin_with_the_same_ones() -> None:
    # 20 to a task: 6, 20 and 26 fleets cut the work differently
    spells, rows = design()
    watch = watch_of(spells, recent_from(rows, SETTINGS)[0])
    block = FleetBlock(
        truth=0, name="weibull 0.1", first=0, last=3, watch=watch, settings=SETTINGS,
        scaled=scale_to(TRUTHS[0], 0.1, 1000.0, 2.0), hours=1000.0, target=0.9,
    )  # fmt: skip
    parts = try_fleets(replace(block, last=1)) + try_fleets(replace(block, first=1))
    assert parts == try_fleets(block)


def test_the_promise_is_kept_where_lives_are_weibull_and_broken_where_they_are_not() -> None:
    spells, rows = design(150)
    told = stress_claim(spells, rows, fs.fit_weibull(spells), SETTINGS, fleets=150)
    by = {t.key: t for t in told.truths}
    # 5 % promised; four standard errors of that among 150
    assert by["weibull"].share <= 0.05 + 4 * np.sqrt(0.05 * 0.95 / 150)
    assert by["weibull"].share_contradicted <= 0.05 + 4 * np.sqrt(0.05 * 0.95 / 150)
    # what hides failures makes the claim look better, and half the chance is told from the whole
    assert by["risen"].supported > by["weibull"].supported
    assert by["removals"].supported > by["weibull"].supported
    assert told.better.supported > 2 * by["risen"].supported
    assert told.better.chance == pytest.approx(0.05)


def test_a_claim_past_the_evidence_is_never_supported() -> None:
    far = replace(SETTINGS, study=replace(SETTINGS.study, claimed_interval_h=1790.0))
    told = tried(fleets=3, settings=far)
    assert sum(t.supported for t in (*told.truths, told.better)) == 0
    assert "none had the claim" in told.sentence


def test_checks_are_asked_about_only_where_there_are_some() -> None:
    assert tried(fleets=1).left_out == ("checks overlook three in ten",)
    spells, rows = design()
    seen = np.where(spells.failed, spells.exit_lower - 25.0, spells.exit_lower)
    found = spells.replace(exit_lower=seen)
    told = stress_claim(found, rows, fs.fit_weibull(found), SETTINGS, fleets=1)
    assert told.left_out == ()
    assert told.truths[-1].key == "overlooked"


def test_few_failures_take_the_middle_of_the_shapes_assumed() -> None:
    spells, rows = design()
    none = spells.replace(event=np.zeros(len(spells)))
    settings = replace(SETTINGS, evidence=EvidenceKeys(shapes=(1.0, 2.0, 4.0)))
    told = stress_claim(none, rows, None, settings, fleets=1)
    assert told.shape == pytest.approx(2.0)
    assert "few failed" in told.shape_from
    assert tried(fleets=1).shape_from == "as fitted"


def test_hours_that_a_study_widens_are_widened_in_made_up_fleets() -> None:
    spells, rows = design()
    settings = replace(SETTINGS, hours=HoursKeys(rounded="interval"))
    watch = watch_of(spells, recent_from(rows, settings)[0])
    i = next(i for i, t in enumerate(TRUTHS) if t.key == "heaped")
    block = FleetBlock(
        truth=i, name="heaped 0.5", first=0, last=1, watch=watch, settings=settings,
        scaled=scale_to(TRUTHS[i], 0.5, 1000.0, 2.0), hours=1000.0, target=0.9,
    )  # fmt: skip
    assert made_fleet(block, 0).interval_known.any()
    assert not made_fleet(replace(block, settings=SETTINGS), 0).interval_known.any()


def test_the_last_two_years_by_dates_by_others_and_without_any() -> None:
    # 1,000 h in 1,000 days, read on the day: two years are 730.5 h
    own = life("A", 1000.0, in_service=before(1000), last_reading=DAY)
    # ended a year before the analysis date: one year of its hours lies in the two
    ended = life("B", 1000.0, "failed", in_service=before(1365), ended=before(365))
    bare = life("C", 900.0)
    hours, told = recent_from([own, ended, bare], SETTINGS)
    turn = DAY - dt.timedelta(days=730.5)
    assert hours[0] == pytest.approx(1000.0 - (DAY - turn).days)
    assert hours[1] == pytest.approx(1000.0 - ((DAY - turn).days - 365))
    # without dates: the others' rate, 1 h a day, back from the analysis date
    assert hours[2] == pytest.approx(900.0 - (DAY - turn).days)
    assert "1 of 3 lives" in told
    hours, told = recent_from([bare], SETTINGS)
    assert hours == pytest.approx([600.0])
    assert "last third" in told


def row(key: str, supported: int, fleets: int = 400, **more: object) -> StressedTruth:
    return StressedTruth(
        key=key, title=key, when=f"it were {key}", chance=0.1, fleets=fleets, supported=supported,
        contradicted=0, signs=(0, 0, 0), any_sign=0, failures=5.0, **more,
    )  # fmt: skip


def made(*truths: StressedTruth) -> Stress:
    return Stress(
        hours=1500.0, accepted=0.1, promised=0.05, shape=2.0, shape_from="as fitted", fleets=400,
        seed=1, n_lives=100, truths=truths, better=row("half", 200), signs=("a", "b", "c"),
        change="so", left_out=(), sentence="",
    )  # fmt: skip


def test_the_sentence_names_the_worst_truth() -> None:
    text = stress_sentence(made(row("weibull", 20), row("risen", 80), row("bathtub", 79)))
    assert text.startswith("If it were risen and 10 % truly fail by 1,500 h")
    assert "wrongly in about 1 of 5 such fleets; if it were weibull, in about 1 of 20" in text
    text = stress_sentence(made(row("weibull", 20), row("risen", 20)))
    assert "no other truth of the 2 tried did worse" in text
    text = stress_sentence(made(row("weibull", 0), row("risen", 0)))
    assert "none had the claim" in text


@pytest.mark.parametrize(
    ("k", "words"),
    [(0, "none of 400"), (1, "about 1 of 400"), (84, "about 1 of 5"), (200, "about 1 of 2"),
     (260, "260 of 400")],
)  # fmt: skip
def test_a_share_is_said_as_a_count(k: int, words: str) -> None:
    assert how_often(row("x", k)) == words


def test_limits_are_clopper_and_pearsons() -> None:
    # 95 % limits of 20 in 400: 3.08 and 7.62 % (from scipy's binomtest, method "exact")
    from scipy.stats import binomtest

    exact = binomtest(20, 400).proportion_ci(0.95, method="exact")
    assert row("x", 20).limits == pytest.approx((exact.low, exact.high))
    assert row("x", 0).limits[0] == 0.0
    assert row("x", 400).limits[1] == 1.0


def test_a_study_has_the_chapter_only_when_asked() -> None:
    study = fs.read_study(DATASETS / "workshop")
    assert study.settings.stress.fleets == 0

    class Base:
        settings = study.settings

    assert chapter_stress(Base, {}) is None  # type: ignore[arg-type]
    asked = with_stress(study)
    assert asked.settings.stress.fleets == 400
    own = replace(study, settings=replace(
        study.settings, stress=replace(study.settings.stress, fleets=2)))  # fmt: skip
    assert with_stress(own) is own
    results = fs.analyse(own)
    stress = results.chapters["stress"]
    assert isinstance(stress, Stress)
    # one sentence: in the claim box, on the pages of builder and inspector, and in the chapter
    document = compose_checked(results)[1]
    parts = {s.key: json.dumps(s.to_dict()) for s in (*document.sections, *document.summaries)}
    said = json.dumps(stress.sentence).strip('"')
    assert {k for k, text in parts.items() if said in text} == {
        "answer", "stress", "for-builder", "for-inspector",
    }  # fmt: skip
    section = compose_stress(stress)
    kinds = [type(b).__name__ for b in section.blocks]
    assert kinds.count("Figure") == kinds.count("Table") == 1


def test_nothing_claimed_is_nothing_to_try() -> None:
    spells, rows = design()
    bare = replace(SETTINGS, study=replace(SETTINGS.study, claimed_interval_h=None))
    with pytest.raises(SettingError, match="No interval is claimed"):
        stress_claim(spells, rows, None, bare)
    with pytest.raises(SettingError, match="0 fleets"):
        stress_claim(spells, rows, None, SETTINGS, fleets=0)


def test_the_accepted_chance_is_the_true_one() -> None:
    settings = replace(SETTINGS, targets=TargetKeys(accepted_failure_at_claim=0.2))
    told = tried(fleets=1, settings=settings)
    assert {t.chance for t in told.truths} == {0.2}
    assert told.better.chance == pytest.approx(0.1)


def test_the_verb_prints_a_table_and_json() -> None:
    words = ["stress", str(DATASETS / "workshop"), "--fleets", "2", "--workers", "1"]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0, done.output
    for truth in TRUTHS:
        assert truth.checks_only or truth.title in done.output
    assert "no proof" in done.output
    told = json.loads(CliRunner().invoke(main, [*words, "--json"]).output)
    assert told["schema"] == "fleetstats/stress/1"
    assert told["fleets"] == 2
    again = json.loads(CliRunner().invoke(main, [*words, "--json", "--seed", "5"]).output)
    assert again["seed"] == 5
    quiet = CliRunner().invoke(main, [*words, "--quiet"]).output
    assert quiet.strip() == told["sentence"]
