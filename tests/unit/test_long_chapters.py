"""Chapters by source, build and cause, and of what lies ahead, of a table read by chunks.

No outside source: the same rows read whole have to give the same figures, digit for digit but for
the order in which they are added up.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fleetstats.advice.results import Results
from fleetstats.chapters.cautions import qualify
from fleetstats.chapters.compose import compose_report
from fleetstats.chapters.data.long_table import REASONS
from fleetstats.chapters.registry import CHAPTERS
from fleetstats.chapters.stress import chapter as stress_chapter
from fleetstats.chapters.stress import with_stress
from fleetstats.core.crew import Crew, at_work
from fleetstats.core.errors import FitError
from fleetstats.core.value import Value
from fleetstats.document.document import Statement
from fleetstats.spells.bulk import bulk_running
from fleetstats.studies import long_chapters
from fleetstats.studies.analyse import analyse, read_lives_of
from fleetstats.studies.by_chunks import lives_by_chunks
from fleetstats.studies.long_chapters import BY_LABEL, LONG_CHAPTERS, work_long
from fleetstats.studies.single import read_base
from fleetstats.study.study import read_study

CLOSE = 1e-7
"""Equal rows are added up in another order; fits end within this of each other."""

STUDY = """\
[study]
title = "Parts of two shops"
analysis_date = 2026-02-01
claimed_interval_h = 400
[merge]
returns = false
[groups]
by = ["source", "build"]
[[records]]
file = "{file}"
"""


def rows_of(n: int) -> list[str]:
    """Return invented rows: two shops that spell differently, two builds, two causes, dates."""
    rng = np.random.default_rng(4)
    build = np.where(np.arange(n) < n // 2, "Mk1", "Mk2")
    entry = np.where(rng.random(n) < 0.2, np.round(rng.uniform(10, 300, n)), 0.0)
    life = 1300 * (rng.exponential(size=n) + (entry / 1300) ** 2.4) ** (1 / 2.4)
    stop = entry + np.round(rng.uniform(40, 900, n))
    end = np.maximum(np.round(np.minimum(life, stop)), entry + 1)
    failed = life <= stop
    shop = np.where(rng.random(n) < 0.6, "North shop", "south")
    shop[::7] = np.char.upper(shop[::7])
    cause = np.where(rng.random(n) < 0.5, "piston", "bearing")
    # what runs was read last in January 2026; what failed did so when it had run so many hours
    use = rng.uniform(60, 140, n)
    ran = (end / use * 365.25).astype(np.int64)
    last = np.datetime64("2026-01-01") + (np.arange(n) % 28).astype("timedelta64[D]")
    last = last - np.where(failed, rng.integers(0, 2500, n), 0).astype("timedelta64[D]")
    new = last - ran.astype("timedelta64[D]")
    return [
        f"E{i:04d},{entry[i]:g},{end[i]:g},{'failed' if failed[i] else 'running'},"
        f"{cause[i] if failed[i] else ''},{shop[i]},{build[i]},{new[i]},{last[i]}"
        for i in range(n)
    ]


HEAD = "engine,entry_hours,exit_hours,ending,cause,source,build,in_service_date,last_reading_date"


def write(folder: Path, rows: list[str], file: str = "parts.csv") -> None:
    """Write a table and its study."""
    (folder / "parts.csv").write_text("\n".join([HEAD, *rows]) + "\n", encoding="utf-8")
    (folder / "study.toml").write_text(STUDY.format(file=file), encoding="utf-8")


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> tuple[Whole, Results]:
    folder = tmp_path_factory.mktemp("labelled")
    write(folder, rows_of(240))
    study = read_study(folder)
    whole = read_base(study)
    done: dict[str, Value] = {}
    for key in ("change", *BY_LABEL, "outlook", "forecast"):
        value = CHAPTERS[key].work_out(whole, done)
        assert value is not None
        done[key] = value
    return Whole(whole, done), analyse(study, chunks=True)


class Whole:
    """The lives of a study read whole, and chapters worked out of them."""

    def __init__(self, base: Any, chapters: dict[str, Value]) -> None:
        self.base, self.chapters = base, chapters


def differ(old: Any, new: Any, path: str) -> Iterator[str]:
    """Yield where two JSON values are not the same to their digits."""
    if isinstance(old, dict) and isinstance(new, dict) and old.keys() == new.keys():
        for key in old:
            yield from differ(old[key], new[key], f"{path}.{key}")
    elif isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        for i, (a, b) in enumerate(zip(old, new, strict=True)):
            yield from differ(a, b, f"{path}.{i}")
    elif isinstance(old, float) and isinstance(new, float):
        if not math.isclose(old, new, rel_tol=CLOSE, abs_tol=1e-12):
            yield f"{path}: {old!r} became {new!r}"
    elif old != new:
        yield f"{path}: {old!r} became {new!r}"


def test_a_chapter_by_label_is_that_of_the_rows_read_whole(
    both: tuple[Whole, Results],
) -> None:
    for key in BY_LABEL:
        whole, long = (r.chapters[key].to_dict() for r in both)
        if key == "pooling":  # no engine is left out, and whose entry is whose is not asked
            whole["influence"] = [x for x in whole["influence"] if x["kind"] != "engine"]
            assert (whole.pop("engines_compared"), long.pop("engines_compared")) == (240, 0)
            assert (whole.pop("entry")["reading"], long.pop("entry")["reading"]) == (
                "not-related", "not-asked",
            )  # fmt: skip
        if key == "sources":  # engines that dropped off are found by each one's dates
            for told in (whole, long):
                for line in told["lines"]:
                    line.pop("drop_off")
        assert not list(differ(whole, long, key))[:5]


def test_so_it_is_when_entries_and_ends_are_paired_anew(
    both: tuple[Whole, Results], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(long_chapters, "MOST_DISTINCT", 100)
    monkeypatch.setattr(long_chapters, "STEPS", ())
    base = both[1]
    paired = lives_by_chunks(base.study)[4]
    assert len(paired.labelled) < 240 == paired.labelled.weight.sum()
    for key in ("between-sources", "growth"):
        value = work_long(key, base, paired, {})
        assert value is not None
        assert not list(differ(base.chapters[key].to_dict(), value.to_dict(), key))[:5]


def test_what_lies_ahead_is_drawn_from_the_same_lives(both: tuple[Whole, Results]) -> None:
    whole, long = (r.chapters["forecast"] for r in both)
    assert (whole.n_running, whole.fleet_hours, whole.past_planned, whole.n_builds) == (
        long.n_running, long.fleet_hours, long.past_planned, long.n_builds,
    )  # fmt: skip
    # 1,000 laws of life of which each mean has a standard deviation of a quarter: 3 of 1 %
    assert long.failures.expected == pytest.approx(whole.failures.expected, rel=0.03)
    whole, long = (r.chapters["outlook"] for r in both)
    rows = [{e.engine: (e.age_h, e.source, e.build, e.read_on, e.worn) for e in x.engines}
            for x in (whole, long)]  # fmt: skip
    assert rows[0] == rows[1]
    a, b = (np.array([x.next_100.estimate for x in o.engines[:20]]) for o in (whole, long))
    np.testing.assert_allclose(a, b, rtol=0.05)


def test_of_more_engines_than_it_takes_the_oldest_are_looked_at(
    both: tuple[Whole, Results], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bulk_running, "MOST_ENGINES", 100)
    monkeypatch.setattr(bulk_running, "OLDEST", 30)
    some = analyse(both[1].study, chunks=True)
    oldest = sorted(both[1].chapters["outlook"].engines, key=lambda e: -e.age_h)
    mine = {e.engine: e for e in some.chapters["outlook"].engines}
    assert len(mine) == 30
    assert {oldest[i].engine for i in range(25)} <= set(mine)
    for e in oldest[:25]:
        assert mine[e.engine].worn == e.worn
    said = some.chapters["outlook"].sentences[1]
    assert said.startswith(f"Of {len(oldest)} engines that run, the 30 with most hours")
    (trouble,) = some.troubles
    assert trouble.where == "stop-chance"  # which counts failures of every engine
    assert f"all {len(oldest)} engines that run" in trouble.text
    assert some.chapters["forecast"].n_running == len(oldest)  # every life is looked at


def words_of(results: Results) -> dict[str, str]:
    """Return the statements of each section."""
    return {
        s.key: " ".join(b.text for b in s.blocks if isinstance(b, Statement))
        for s in compose_report(results).sections
    }


def test_what_is_left_out_says_so_and_why_in_its_place(both: tuple[Whole, Results]) -> None:
    words = words_of(both[1])
    said = {k: w for k, w in words.items() if w.startswith("Left out, since")}
    assert set(said) == set(REASONS)
    assert all(w.endswith(REASONS[k]) for k, w in said.items())
    assert not set(LONG_CHAPTERS) & set(said)


def test_fleets_of_a_study_are_made_up_by_whoever_is_at_work(
    both: tuple[Whole, Results], monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Crew] = []
    monkeypatch.setattr(stress_chapter, "stress_claim", lambda *_, crew, **__: asked.append(crew))
    settings = with_stress(both[1].study).settings
    base = dataclasses.replace(both[1], study=dataclasses.replace(both[1].study, settings=settings))
    with at_work(Crew(workers=2)):
        stress_chapter.chapter_stress(base, {})
    assert asked == [Crew(workers=2)]


def test_a_rise_that_whole_work_sees_is_seen_by_chunks(tmp_path: Path) -> None:
    # all that failed did so in the last month
    rows = [r if ",running," in r else f"{r[:-10]}2026-01-20" for r in rows_of(240)]
    write(tmp_path, rows)
    study = read_study(tmp_path)
    day = read_lives_of(study)[2].before_rise
    whole, long = (analyse(study, chunks=chunks) for chunks in (False, True))
    assert day is not None
    assert long.built.before_rise == day
    assert long.advice.verdict.word == whole.advice.verdict.word != "supported"
    # signs for a second look at single lives are not asked by chunks
    bare = [qualify(r, ()).advice.to_dict() for r in (whole, long)]
    assert not list(differ(*bare, "advice"))[:5]


def test_of_very_many_different_lives_hours_are_rounded_and_that_is_told(
    both: tuple[Whole, Results], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(long_chapters, "MOST_DISTINCT", 100)
    base = both[1]
    *_, chapters, rough = lives_by_chunks(base.study)
    assert rough.step_h == 10.0
    assert len(rough.labelled) < 200
    assert rough.labelled.weight.sum() == base.spells.weight.sum()
    assert rough.labelled.n_failed == base.spells.n_failed
    for by in ("cause", "source", "build"):
        names, place = np.unique(getattr(rough.labelled, by), return_inverse=True)
        n = dict(zip(names, np.bincount(place, weights=rough.labelled.weight), strict=True))
        whole = getattr(both[0].base.spells, by)
        assert n == {name: (whole == name).sum() for name in names}
    # half a step of 10 h a life at the most
    assert abs(rough.labelled.exposure_h - base.spells.exposure_h) < 10.0 * base.spells.weight.sum()
    exact, other = base.chapters["growth"], work_long("growth", base, rough, {})
    assert [x.n for x in other.lines] == [x.n for x in exact.lines]
    told = dataclasses.replace(base, chapters=dict(base.chapters) | chapters)
    assert "rounded to 10 h, so that no age moved by more than 5 h" in words_of(told)["data"]
    monkeypatch.setattr(long_chapters, "MOST_LABELLED", 50)
    with pytest.raises(FitError, match="rows to compare; at most 50"):
        work_long("causes", base, rough, {})
