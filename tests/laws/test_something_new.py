"""A new way to fail begins between two returns: who says so, when, and what is said from then on.

The story is that of the demo `new-mode` (invented; its truth stands in `fleetstats/demo/onset.py`):
six returns, half a year apart, and a way to fail that begins in the second year.
"""

from __future__ import annotations

import csv
import datetime as dt
import functools
from pathlib import Path
from types import SimpleNamespace as NS

import pytest
from onset_fleets import DAY, failed_between, onset_days

from fleetstats.chapters.ahead.forecast import forecast_fleet
from fleetstats.chapters.answer.since import compose_since
from fleetstats.chapters.change.chapter import chapter_change
from fleetstats.chapters.change.values import Changed
from fleetstats.chapters.claim import advise_claim, qualify_claim
from fleetstats.demo.onset import (
    ANALYSIS_DATE,
    CLAIM_H,
    N_ENGINES,
    ONSET,
    ONSET_CAUSE,
    SEED,
    SOURCES,
    draw_onset_lives,
    onset_rows,
    reliability,
)
from fleetstats.demo.onset_study import STUDY, onset_files
from fleetstats.spells.running import find_running
from fleetstats.studies.single import LightBase, read_base
from fleetstats.studies.watch import watch_fleet
from fleetstats.study.study import read_study
from fleetstats.vocabulary.cautions import FIRST, rank_of

RETURNS = tuple(
    dt.date(y, m, d) for y in (2023, 2024, 2025) for m, d in ((4, 30), (10, 31))
)  # the onset is the day after the fourth of six: the mode shows in the last two
LIVES = draw_onset_lives()
FOUR_MONTHS = ONSET + dt.timedelta(days=122)


def write_returns(folder: Path, on: dt.date, *, stated: dt.date | None = None, rate: float = -1):
    """Write the study as its club has it on a day, dated that day or as stated."""
    folder.mkdir(parents=True, exist_ok=True)
    lives = LIVES if rate < 0 else draw_onset_lives(rate_per_h=rate)
    text = STUDY.replace(str(ANALYSIS_DATE), str(stated or on)) + "\n[forecast]\ndraws = 300\n"
    for source in SOURCES:
        name = f"{source.split()[0]}.csv"
        text += f'\n[[records]]\nfile = "{name}"\nshape = "lives"\nsource = "{source}"\n'
        with (folder / name).open("w", newline="") as out:
            csv.writer(out).writerows(onset_rows(lives, on, source=source))
    (folder / "study.toml").write_text(text)
    return folder


@pytest.fixture(scope="module")
def looked(tmp_path_factory):
    """Return what a study of a day knows and says of changes."""
    root = tmp_path_factory.mktemp("returns")

    @functools.cache
    def at(on: dt.date, rate: float = -1) -> tuple[LightBase, Changed]:
        base = read_base(read_study(write_returns(root / f"{on}{rate}", on, rate=rate)))
        changed = chapter_change(base, {})
        assert changed is not None
        return base, changed

    return at


def of_cause(changed: Changed):
    return next((x for x in changed.lines if x.name == ONSET_CAUSE), None)


def test_no_return_before_the_onset_shows_a_rise(looked):
    for on in RETURNS[:4]:
        assert not [x for x in looked(on)[1].flagged if x.rose], on


def test_the_first_return_after_four_months_names_the_mode_and_its_date(looked):
    first = next(on for on in (*RETURNS, ANALYSIS_DATE) if on >= FOUR_MONTHS)
    line = of_cause(looked(first)[1])
    assert line is not None
    assert line.rose
    assert line.change.new
    assert line.change.day_low <= ONSET.toordinal() <= line.change.day_high


def test_the_same_fleet_without_the_mode_shows_none(looked):
    changed = looked(RETURNS[-1], 0.0)[1]
    assert changed.flagged == ()
    assert changed.cautions == ()


def watched(tmp_path: Path, on: dt.date, rate: float = -1):
    folder = write_returns(tmp_path / str(on), on, stated=dt.date(2024, 3, 31), rate=rate)
    return watch_fleet(read_study(folder), today=on)


def test_the_watch_alarms_by_the_third_failure_within_four_months(tmp_path):
    days = onset_days(LIVES)
    third = ONSET + dt.timedelta(days=int(days[2]) + 1)
    assert third <= FOUR_MONTHS  # the story is one in which three came by then
    assert watched(tmp_path, ONSET - DAY).state == "quiet"
    watch = watched(tmp_path, third)
    line = next(x for x in watch.lines if x.name == ONSET_CAUSE)
    assert (line.by, line.state, line.line.n_at_alarm) == ("new", "alarm", 3)
    assert watch.sentence.startswith("ALARM: 3 failures of cause 'gudgeon pin'")
    assert watch.base_day == dt.date(2024, 3, 31)  # rows came after the study's own date
    assert len(watch.first) > 0
    assert [c.code for c in watch.cautions] == ["watch-alarm"]


def test_the_watch_of_the_same_fleet_without_the_mode_stays_quiet(tmp_path):
    assert watched(tmp_path, ANALYSIS_DATE - 365 * DAY, rate=0.0).state == "quiet"


@pytest.mark.parametrize("on", [RETURNS[-1], ANALYSIS_DATE])
def test_the_next_forecast_holds_what_comes(looked, on):
    base, changed = looked(on)
    engines = find_running(base.built.rows, base.settings)
    told = forecast_fleet(base.spells, base.fit, engines, base.settings, changed.mixture)
    blind = forecast_fleet(base.spells, base.fit, engines, base.settings)
    came = failed_between(LIVES, on, on + 365 * DAY)
    assert told.failures.low <= came <= told.failures.high
    assert blind.failures.high < came  # what all years say does not hold it
    assert "times the rate that all years show" in " ".join(told.sentences)
    assert blind.rate_now == ""


def test_the_answer_since_the_onset_holds_the_truth_and_that_of_all_years_does_not(looked):
    base, changed = looked(ANALYSIS_DATE)
    truth = 1.0 - reliability(CLAIM_H, since_onset=True)
    everything = advise_claim(base.spells, base.settings, CLAIM_H, fit=base.fit)
    assert everything.failure_high < truth < changed.since.failure_high
    assert abs((changed.since.day - ONSET).days) < 62


def test_the_first_screen_and_the_claim_say_it(looked):
    base, changed = looked(ANALYSIS_DATE)
    claim = advise_claim(base.spells, base.settings, CLAIM_H, fit=base.fit)
    claim = qualify_claim(claim, base.settings, changed.cautions)
    results = NS(chapters={"change": changed, "claim": claim}, spells=base.spells)
    (section,) = compose_since(results)
    lead, table = section.blocks
    assert ONSET_CAUSE in lead.text
    assert "November 2024" in lead.text
    assert [row[0] for row in table.rows] == ["all years", f"since {changed.since.day}"]
    assert all(rank_of(c.code) == FIRST for c in changed.cautions)
    assert any("began in November 2024" in p for p in claim.provisos)
    quiet = NS(chapters={"change": looked(RETURNS[0])[1], "claim": claim}, spells=base.spells)
    assert compose_since(quiet) == ()


def test_the_dataset_is_what_the_demo_makes():
    folder = Path(__file__).parents[2] / "datasets" / "new-mode"
    assert {p.name: p.read_text() for p in folder.iterdir()} == onset_files()
    assert len(draw_onset_lives(seed=SEED)) == N_ENGINES
