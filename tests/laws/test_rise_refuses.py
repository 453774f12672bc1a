"""Where something new began, no face of the tool prints a word that only all years carry.

The records are those of the demo `new-mode` (invented; its truth stands in
`fleetstats/demo/onset.py`): all years leave room for fewer failures than are accepted, the hours
since the onset for more.
"""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from fleetstats.advice.advise import advise_hours
from fleetstats.advice.doubts.rate_rose import failure_high_since_rise
from fleetstats.advice.judge import is_supported, judge_claim
from fleetstats.advice.quoted import Quoter
from fleetstats.chapters.change import Changed
from fleetstats.chapters.change.chapter import chapter_change
from fleetstats.chapters.claim import advise_claim
from fleetstats.chapters.claim.brochure import write_brochure
from fleetstats.chapters.clocks_and_dates.chapter import chapter_looking_back
from fleetstats.chapters.since import answers_since
from fleetstats.cli import main
from fleetstats.demo.onset import CLAIM_H, reliability
from fleetstats.portfolio.ranking import run_portfolio
from fleetstats.records.split_families import read_portfolio
from fleetstats.spells import Spells
from fleetstats.spells.days.since import after_rise
from fleetstats.studies.single import LightBase, read_base
from fleetstats.study.study import read_study
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.wording import hours_down

DATASETS = Path(__file__).parents[2] / "datasets"
TARGET = 0.80


@pytest.fixture(scope="module")
def base() -> LightBase:
    return read_base(read_study(DATASETS / "new-mode"))


@pytest.fixture(scope="module")
def changed(base: LightBase) -> Changed:
    told = chapter_change(base, {})
    assert told is not None
    return told


def forgotten(spells: Spells) -> Spells:
    """Return the spells as those who know nothing of the rise have them."""
    return spells.replace(at_rise_h=np.full(len(spells), np.nan))


def asked(base: LightBase, spells: Spells) -> Quoter:
    return Quoter.of(spells, try_fit(spells), base.settings)


def test_all_years_alone_would_support_the_claim_that_the_truth_refutes(base: LightBase) -> None:
    blind = judge_claim(asked(base, forgotten(base.spells)), CLAIM_H, TARGET)
    assert blind.word == "supported"
    assert 1.0 - reliability(CLAIM_H, since_onset=True) > 1.0 - TARGET


def test_verdict_and_claim_and_every_part_refuse_it_alike(base: LightBase) -> None:
    lives = asked(base, base.spells)
    judged = judge_claim(lives, CLAIM_H, TARGET)
    assert (judged.word, judged.refused) == ("not-yet-shown", "rate-rose")
    assert not is_supported(lives, CLAIM_H, TARGET)
    verdict = advise_hours(base.spells, base.fit, base.settings).verdict
    claim = advise_claim(base.spells, base.settings, CLAIM_H, fit=base.fit)
    assert verdict is not None
    assert (verdict.word, verdict.refused, verdict.because) == (
        claim.state, claim.refused, claim.because) == (
        judged.word, judged.refused, judged.because)  # fmt: skip
    for s in claim.subsets:
        assert s.state != "supported", s.name  # the mode began at both sources


def test_the_claim_verb_prints_it(tmp_path: Path) -> None:
    folder = shutil.copytree(DATASETS / "new-mode", tmp_path / "new-mode")
    run = CliRunner().invoke(main, ["claim", str(folder), "--no-history"])
    assert run.exit_code == 3, run.output  # the claim is not shown
    assert run.output.startswith("Not yet shown")
    assert "the failure rate at equal ages rose over the calendar" in run.output


def test_a_portfolio_prints_the_same_word(tmp_path: Path, base: LightBase) -> None:
    for name in ("new-mode", "quiet-fleet"):
        shutil.copytree(DATASETS / name, tmp_path / name)
    rows = {r.row.family: r.row for r in run_portfolio(read_portfolio(tmp_path)).ranked}
    assert rows["new-mode"].verdict == judge_claim(asked(base, base.spells), CLAIM_H, TARGET).word
    assert rows["new-mode"].provisos == ()
    assert rows["quiet-fleet"].verdict == "supported"


def test_the_hours_since_are_those_of_the_answer_since(base: LightBase, changed: Changed) -> None:
    """Two ways: ages kept with the spells, and rows cut at the day."""
    assert changed.since is not None
    later = after_rise(base.spells)
    assert later.n_failed == changed.since.n_failed
    assert later.exposure_h == pytest.approx(changed.since.exposure_h, rel=1e-12)
    told = answers_since(base, changed.since.day - dt.timedelta(days=1))
    assert told is not None
    assert told.verdict != "supported"
    high = failure_high_since_rise(asked(base, base.spells), CLAIM_H)
    assert high == pytest.approx(changed.since.failure_high, rel=1e-9)


def test_the_brochure_carries_no_further_than_the_hours_since(base: LightBase) -> None:
    claim = advise_claim(base.spells, base.settings, CLAIM_H, fit=base.fit)
    blind = advise_claim(forgotten(base.spells), base.settings, CLAIM_H)
    assert 0.0 < claim.shown_to_h < blind.shown_to_h
    assert reliability(claim.shown_to_h, since_onset=True) >= TARGET
    sentence = write_brochure(claim, base.settings).may
    assert f"reach {hours_down(claim.shown_to_h, CLAIM_H)}" in sentence
    assert f"fail by {CLAIM_H:,.0f} h" not in sentence


def test_a_word_that_the_hours_since_carry_too_stays(base: LightBase) -> None:
    """Nothing is refused for the rise itself: within the hours since, few hours are supported."""
    lives = asked(base, base.spells)
    judged = judge_claim(lives, 100.0, TARGET)
    assert (judged.word, judged.refused) == ("supported", "")
    assert is_supported(asked(base, after_rise(base.spells)), 100.0, TARGET)


def test_reruns_of_the_same_lives_give_the_same_word(base: LightBase) -> None:
    back = chapter_looking_back(base, {})  # type: ignore[arg-type]
    assert back is not None
    assert [r.verdict for r in back.runs][-1] == "not-yet-shown"
    assert "would have been the same" not in back.sentence


def test_the_rise_goes_wherever_the_lives_go(base: LightBase) -> None:
    whole, later = base.spells, after_rise(base.spells)
    order = np.arange(len(whole))[::-1]
    half = whole.select(order[::2]).join(whole.select(order[1::2]))
    for same in (half, whole.collapse(), whole.split_at(500.0), whole.replace(weight=whole.weight),
                 whole.with_left_out(())):  # fmt: skip
        again = after_rise(same)
        assert again.n_failed == later.n_failed
        assert again.exposure_h == pytest.approx(later.exposure_h, rel=1e-12)
    parts = [after_rise(whole.of_group("source", s)) for s in np.unique(whole.source).tolist()]
    assert sum(p.exposure_h for p in parts) == pytest.approx(later.exposure_h, rel=1e-12)


@pytest.mark.parametrize("name", ["quiet-fleet", "on-condition", "tow-clubs", "workshop"])
def test_a_fleet_without_a_shown_rise_knows_of_none(name: str) -> None:
    base = read_base(read_study(DATASETS / name))
    told = chapter_change(base, {})
    shown = told is not None and told.leads is not None and told.leads.rose and told.leads.asked
    assert not shown
    assert np.isnan(base.spells.at_rise_h).all()
