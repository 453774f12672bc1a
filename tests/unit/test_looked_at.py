"""Lives of a table read by chunks that are looked at one by one, all of them or those drawn.

No outside source: the same rows read whole have to give the same figures, and a draw lies as far
from the whole as it says. The spread of draws is that of Cochran (1977), Sampling Techniques,
chapter 2 (from memory), tried here by drawing.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from test_long_chapters import HEAD, differ, rows_of, write

from fleetstats.advice.results import Results
from fleetstats.chapters.ahead.forecast_drawn import error_of_draw
from fleetstats.chapters.compose import compose_report
from fleetstats.chapters.data import SAMPLED, Sampled
from fleetstats.chapters.data.long_table import CHAPTERS_LEFT_OUT
from fleetstats.chapters.registry import CHAPTERS, quick_order, work_order
from fleetstats.document.document import Section, Statement
from fleetstats.records.life import LifeRow
from fleetstats.spells.bulk import bulk_running, bulk_sample
from fleetstats.spells.bulk.bulk import read_bulk
from fleetstats.spells.bulk.bulk_sample import BulkSample, draw_fewer, stir, thin_many
from fleetstats.spells.coupling import couple_margins, part_running
from fleetstats.spells.days.since import after_rise
from fleetstats.spells.spells import Spells
from fleetstats.studies.analyse import add_chapters, analyse
from fleetstats.studies.by_chunks import lives_by_chunks
from fleetstats.studies.long_chapters import BY_SUMS, LONG_CHAPTERS
from fleetstats.studies.looked_at import LOOKED_AT
from fleetstats.study.study import Study, read_study
from fleetstats.vocabulary.finding import Origin


def made(folder: Path, *, found: bool = False) -> Study:
    """Write a table of two shops, some faults of it found at checks, and read its study."""
    rows = rows_of(150)
    if found:
        rows[::9] = [r.replace(",running,,", ",found-at-check,piston,") for r in rows[::9]]
    write(folder, rows)
    return read_study(folder)


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> tuple[Results, Results]:
    study = made(tmp_path_factory.mktemp("looked"))
    quick = analyse(study, chunks=False, quick=True)
    asked = [k for k in work_order(CHAPTERS) if k in ASKED]
    return add_chapters(quick, keys=(*asked,)), analyse(study, chunks=True)


ASKED = (*(set(LOOKED_AT) - {"check-interval"}), *BY_SUMS)


def test_chapters_of_single_lives_are_those_of_the_rows_read_whole(
    both: tuple[Results, Results],
) -> None:
    whole, long = both
    told = {k for k in ASKED if k in whole.chapters}
    assert {"calendar", "calendar-plane", "use-per-year", "change", "since", "plan"} <= told
    for key in told:
        old, new = (r.chapters[key].to_dict() for r in both)
        assert not list(differ(old, new, key))[:3]
    assert SAMPLED not in long.chapters


@pytest.mark.slow
def test_the_interval_of_checks_is_that_of_the_rows_read_whole(tmp_path: Path) -> None:
    study = made(tmp_path, found=True)
    whole, long = (analyse(study, chunks=x).chapters for x in (False, True))
    key = "check-interval"
    assert not list(differ(whole[key].to_dict(), long[key].to_dict(), key))[:3]
    # what is left out is named, and nothing else is
    named = {k for keys in CHAPTERS_LEFT_OUT.values() for k in keys}
    assert {*whole} - {*long} <= named


def engines(sample: BulkSample) -> set[str]:
    return {x.engine for x in sample.rows}


def test_who_is_drawn_hangs_on_ids_and_seed_alone(tmp_path: Path) -> None:
    rows = rows_of(150)
    (tmp_path / "a").mkdir()
    write(tmp_path / "a", rows)
    study = read_study(tmp_path / "a")
    drawn = read_bulk(study, most_lives=60).sample
    assert (drawn.n, drawn.of, len(engines(drawn))) == (60, 150, 60)
    for name, order in (("b", rows[::-1]), ("c", [*rows[70:], *rows[:70]])):
        (tmp_path / name).mkdir()
        write(tmp_path / name, order, "parts*.csv")
        halves = [order[:50], order[50:]]
        for i, half in enumerate(halves):
            text = "\n".join([HEAD, *half]) + "\n"
            (tmp_path / name / f"parts{i}.csv").write_text(text, encoding="utf-8")
        (tmp_path / name / "parts.csv").unlink()
        assert engines(read_bulk(read_study(tmp_path / name), most_lives=60).sample) == engines(
            drawn
        )
    seed = study.settings.study.seed
    assert engines(draw_fewer(drawn, 20, seed)) < engines(drawn)
    assert engines(draw_fewer(drawn, 20, seed)) == engines(read_bulk(study, most_lives=20).sample)
    other = dataclasses.replace(study.settings.study, seed=seed + 1)
    moved = dataclasses.replace(study, settings=dataclasses.replace(study.settings, study=other))
    assert engines(read_bulk(moved, most_lives=60).sample) != engines(drawn)


def test_a_draw_lies_as_far_from_the_whole_as_it_says() -> None:
    rng = np.random.default_rng(3)
    n, most = 4000, 1000
    key = np.arange(n, dtype=np.uint64) * np.uint64(977)  # ids in a row, as fleets have them
    hours = rng.uniform(100.0, 900.0, n)
    failed = rng.random(n) < 0.1
    chance = rng.uniform(0.0, 0.3, n)
    rate = failed.sum() / hours.sum()
    held, summed = [], []
    for seed in range(400):
        place = stir(key, seed)
        mine = place < np.partition(place, most)[most]
        assert mine.sum() == most
        told = Sampled(n=most, of=n, n_failed=float(failed[mine].sum()), seed=seed)
        assert told.error is not None
        held.append(abs(failed[mine].sum() / hours[mine].sum() / rate - 1.0) <= told.error)
        error = error_of_draw(chance[mine], most / n)
        summed.append(abs(chance[mine].mean() / chance.mean() - 1.0) <= error)
    # 95 of 100, three standard errors of 400 draws wide
    assert 0.917 <= np.mean(held) <= 0.983
    assert 0.917 <= np.mean(summed) <= 0.983


def test_engines_of_rows_that_stand_for_many_are_drawn_in_proportion() -> None:
    row = LifeRow(origin=Origin(file="a.csv", row=2), engine="", exit_h=1.0, ending="running")
    lives = [dataclasses.replace(row, exit_h=float(i), count=7) for i in range(1, 2001)]
    kept = thin_many(lives, 0.3, 1)
    assert set(kept.values()) == {2, 3}
    assert sum(kept.values()) == pytest.approx(0.3 * 14_000, rel=0.02)
    back = thin_many(lives[::-1], 0.3, 1)
    assert [back[1999 - i] for i in range(2000)] == [kept[i] for i in range(2000)]


def test_lives_that_run_are_told_apart_by_their_ends_alone() -> None:
    lives = Spells.of(
        [0, 5, 0, 2, 0], [10, 10, 10, 30, 30], [0, 0, 1, 0, 0], weight=[3, 2, 4, 1, 6]
    )
    for spells in (lives, couple_margins(lives)):
        apart, runs = part_running(spells, np.array([10.0, 30.0]), np.array([4.0, 7.0]))
        assert apart.weight.sum() == 16
        assert apart.n_failed == 4
        assert not (apart.failed & runs).any()
        at = apart.exit_upper
        assert [apart.weight[runs & (at == h)].sum() for h in (10, 30)] == [4, 7]
        assert [apart.weight[~runs & ~apart.failed & (at == h)].sum() for h in (10, 30)] == [1, 0]


@pytest.fixture(scope="module")
def rising(tmp_path_factory: pytest.TempPathFactory) -> Study:
    folder = tmp_path_factory.mktemp("rising")
    write(folder, [r if ",running," in r else f"{r[:-10]}2026-01-20" for r in rows_of(240)])
    return read_study(folder)


def test_of_a_draw_that_shows_a_rise_only_its_own_hours_count_since(
    rising: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bulk_sample, "MOST_LIVES", 150)
    *_, built, _, long = lives_by_chunks(rising)
    looked = long.looked.built
    assert built.before_rise == looked.before_rise is not None
    later, own = after_rise(built.spells), after_rise(looked.spells)
    assert later.weight.sum() == own.weight.sum() < 240
    assert later.exposure_h == pytest.approx(own.exposure_h, rel=1e-12)
    # nobody is lost by it: every life counts as before in what asks all years
    assert built.spells.weight.sum() == 240
    assert built.spells.n_failed == read_bulk(rising).bulk.spells.n_failed
    assert built.spells.exposure_h == pytest.approx(
        read_bulk(rising).bulk.spells.exposure_h, rel=1e-12
    )


def first_words(section: Section) -> str:
    block = section.blocks[0]
    assert isinstance(block, Statement)
    return block.text


def test_chapters_of_lives_drawn_say_so_first(
    both: tuple[Results, Results], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bulk_sample, "MOST_LIVES", 90)
    monkeypatch.setattr(bulk_running, "MOST_ENGINES", 60)
    monkeypatch.setattr(bulk_running, "OLDEST", 30)
    drawn = analyse(both[0].study, chunks=True)
    sections = {s.key: s for s in compose_report(drawn).sections}
    for key in ("calendar", "change", "since"):
        told = drawn.chapters[SAMPLED].by_chapter[key]
        assert (told.n, told.of) == (90, 150)
        at = {"since": "sensitivity"}.get(key, key)
        assert first_words(sections[at]) == told.sentence
        assert "90 of 150 lives" in told.sentence
    data = " ".join(b.text for b in sections["data"].blocks if isinstance(b, Statement))
    assert drawn.chapters[SAMPLED].by_chapter["change"].sentence in data
    forecast = drawn.chapters["forecast"]
    of = both[1].chapters["forecast"].n_running
    assert forecast.n_running < of
    assert f"Of {of} engines that run, {forecast.n_running} drawn" in forecast.sentences[1]


def test_quick_leaves_out_by_chunks_what_it_leaves_out_of_a_whole_table(
    both: tuple[Results, Results],
) -> None:
    study = both[0].study
    quick = analyse(study, chunks=True, quick=True)
    kept = {*quick_order(CHAPTERS, study.settings)}
    assert quick.how_read.quick
    beside = {"bulk", "pairing"}
    assert {*quick.chapters} - beside == {*both[1].chapters} & kept - {"cautions"}
    gone = {*both[1].chapters} - {*quick.chapters}
    assert {"calendar-plane", "hidden", "forecast"} <= gone <= {*LONG_CHAPTERS}
    assert {*both[1].how_read.left_out} < {*quick.how_read.left_out}
    assert "whether checks are frequent enough" in quick.how_read.left_out
    assert quick.advice.cautions[0].code == "quick-study"
    assert not compose_report(quick).sections
