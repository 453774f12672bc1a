"""What a study says of its records is said of the same rows read whole and by chunks.

Each is the other's check: the whole reading goes row by row. Records are invented.
"""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

import pytest

from fleetstats.chapters.data.long_table import NOT_CUT, compose_bulk
from fleetstats.chapters.population.section import compose_population
from fleetstats.document.document import Statement
from fleetstats.document.population_words import say_starts
from fleetstats.spells.asserted import LivesTold
from fleetstats.spells.bulk.bulk import build_bulk
from fleetstats.spells.placings import as_seen, place_left_out
from fleetstats.spells.spells import Spells
from fleetstats.spells.trouble import cut_lives
from fleetstats.studies import by_chunks
from fleetstats.studies.analyse import analyse, read_lives_of
from fleetstats.studies.by_chunks import lives_by_chunks
from fleetstats.tables import csv_chunks

HEAD = (
    "engine,entry_hours,exit_hours,ending,cause,in_service_date,observed_from_date,"
    "last_reading_date,ended_date,source,meter,count,last_good_hours,found_at_teardown,note\n"
)
STUDY = """\
claimed_interval_h = 300
[merge]
returns = false
[hours]
meter = "flight"
factors = {tach = 1.1}
[treat]
hours-missing = "set-aside"
duplicate-row = "set-aside"
duplicate-life = "set-aside"
"""


def rows_of(entry: str, *, seed: int = 3, n: int = 160, many: bool = False, to: int = 1) -> str:
    """Return messy lines; `entry` says whether hours of entry are "told", "blank" or "partly".

    Hours are rounded `to` so many digits.
    """
    r, out = random.Random(seed), []
    for i in range(n):
        start = r.choice([0.0, 0.0, 0.0, round(r.uniform(50, 300), to)])
        stop = round(start + r.uniform(51, 900), to)
        end = r.choices(
            ["failed", "running", "sold", "removed-finding", "found-at-check"], [2, 12, 2, 1, 1]
        )[0]
        told = entry == "told" or start > 0 or (entry == "partly" and r.random() < 0.5)
        year = r.randint(2008, 2018)
        new = f"{year}-04-11" if r.random() < 0.6 else ""
        seen = r.choice(["", new, f"{year - 1}-03-01"]) if start == 0 else ""
        good = f"{(start + stop) / 2:.1f}" if end == "found-at-check" else ""
        out.append(",".join((
            f"E-{i:04d}", f"{start:g}" if told else "", f"{stop:g}", end,
            "piston" if end not in ("running", "sold") else "", new, seen,
            r.choice(["2025-12-10", "2022-01-01", ""]) if end == "running" else "",
            "2025-06-01" if end != "running" and r.random() < 0.5 else "",
            r.choice(["club", "shop"]), r.choice(["tach", "flight", ""]),
            str(r.choice([1, 1, 3])) if many else "", good,
            "no" if end == "sold" and r.random() < 0.3 else "",
            r.choice(["", "", "", "crankshaft broke"]),
        )))  # fmt: skip
    out.append("E-9001,0,about 700,running,,,,,,club,,,,,")  # hours in words
    out.append("E-9002,0,,failed,piston,,,,,shop,,,,,")  # a failure set aside
    out.append("E-0004,0,,failed,piston,,,,,club,,,,,")  # and one of an engine with a life
    out.append(out[6])  # an engine told twice: counted, then taken back
    return HEAD + "\n".join(out) + "\n"


@pytest.mark.parametrize("many", [False, True])
@pytest.mark.parametrize("entry", ["told", "partly", "blank"])
def test_what_lives_tell_is_counted_alike(
    entry: str, many: bool, make_study: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = make_study(rows_of(entry, many=many), STUDY)
    whole = read_lives_of(study)[2]
    monkeypatch.setattr(csv_chunks, "BLOCK", 3000)
    long = lives_by_chunks(study)[2]
    assert long.rows == ()
    told = LivesTold.of_rows(whole.rows, study.settings)
    assert long.told == told
    assert long.asserted == whole.asserted
    assert min(told.n_running, told.n_unread, told.n_undated, told.n_sources) > 0
    assert (told.n_rows_of_many > 0) is many
    assert (told.n_from_start_unsaid == 0) is (entry == "told")
    assert say_starts(long.asserted) == say_starts(whole.asserted) != ""


def test_a_check_of_lives_that_a_rule_leaves_out_is_no_check_of_the_others(make_study: Any) -> None:
    rule = '[[question.rules]]\ncause = "lot 7"\ncounts_as = "excluded"\nreason = "recalled"\n'
    rows = "".join(f"E-{i},0,{400 + i},running,,\n" for i in range(12))
    study = make_study(
        f"engine,entry_hours,exit_hours,ending,cause,last_good_hours\n{rows}"
        "X-1,0,500,found-at-check,lot 7,450\n",
        "[merge]\nreturns = false\n[question]\nlevel = \"beyond-limits\"\n" + rule,
    )  # fmt: skip
    seen = [b.asserted.checks_seen for b in (read_lives_of(study)[2], lives_by_chunks(study)[2])]
    assert seen == [False, False]


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> Any:
    from fleetstats.study.study import read_study

    folder = tmp_path_factory.mktemp("said")
    (folder / "lives.csv").write_text(rows_of("partly", n=45), encoding="utf-8")
    (folder / "study.toml").write_text(
        f'[study]\ntitle = "Messy"\nanalysis_date = 2026-02-01\n{STUDY}'
        '[[records]]\nfile = "lives.csv"\n',
        encoding="utf-8",
    )
    study = read_study(folder)
    return [analyse(study, chunks=c, quick=True) for c in (False, True)]


@pytest.mark.slow
def test_the_cautions_are_the_same(both: Any) -> None:
    """All but the parts of a quick study that are left out: by chunks there are more of them."""
    whole, long = (
        {(c.code, c.where, c.value, c.limit) for c in r.advice.cautions if c.code != "quick-study"}
        for r in both
    )
    assert whole == long
    codes = {c[0] for c in whole}
    assert codes >= {"as-stated", "stale-hours", "clock-mixed", "calendar"}


@pytest.mark.slow
def test_the_claim_and_its_provisos_are_the_same(both: Any) -> None:
    whole, long = (r.chapters["claim"] for r in both)
    quick = "parts of the study were left out"
    assert [p for p in whole.provisos if quick not in p] == [
        p for p in long.provisos if quick not in p
    ]
    assert any("from the start" in p for p in long.provisos)
    assert whole.n_left_out == long.n_left_out > 0
    assert long.failure_high_with_left_out == pytest.approx(
        whole.failure_high_with_left_out, rel=1e-6
    )
    for a, b in zip(whole.subsets, long.subsets, strict=True):
        assert b.failure_high_with_left_out == pytest.approx(a.failure_high_with_left_out, rel=1e-6)


@pytest.mark.slow
def test_the_report_says_who_was_followed_from_the_start(both: Any) -> None:
    for r in both:
        said = say_starts(r.built.asserted)
        assert "neither a date nor the source says so" in said
        section = compose_bulk(r) if "bulk" in r.chapters else compose_population(r)
        texts = [b.text for b in section.blocks if isinstance(b, Statement)]
        assert said in texts


def test_a_failure_left_out_cuts_a_life_of_its_own_engine(make_study: Any) -> None:
    """Without the name it would cut none, and hours past the failure would speak for the claim."""
    study = make_study(rows_of("partly", n=300, to=-2), STUDY)
    whole, bulk = read_lives_of(study)[2].spells, build_bulk(study)
    left = tuple(replace(x, engine="") for x in bulk.left_out)
    long = by_chunks._few_rows(bulk.spells, left)[0].with_left_out(left)
    assert len(long) < len(whole)
    assert long.weight.sum() == whole.weight.sum()
    assert sum(x.life.n for x in left if x.life is not None) > 3
    for a, b in zip(_placed(whole), _placed(long), strict=True):
        assert a == pytest.approx(b, rel=1e-9)
    uncut = long.with_left_out(replace(x, life=None) for x in left)
    assert as_seen(long).exposure_h == pytest.approx(as_seen(whole).exposure_h)
    assert as_seen(uncut).exposure_h > 1.05 * as_seen(whole).exposure_h


def _placed(spells: Spells) -> list[float]:
    """Return hours at risk where all failures left out come at one position."""
    return [place_left_out(spells, spells.left_out, p).exposure_h for p in (0.0, 0.25, 0.5, 1.0)]


def test_where_the_lives_of_failures_left_out_are_not_sought_it_is_said(
    make_study: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = make_study(rows_of("told"), STUDY)
    said = cut_lives.NOT_SOUGHT
    assert said not in build_bulk(study).not_looked_for
    monkeypatch.setattr(cut_lives, "MOST_CUT", 0)
    assert build_bulk(study).not_looked_for[-1] == said


@pytest.mark.slow
def test_where_groups_are_compared_in_coarser_steps_what_is_not_cut_is_said(both: Any) -> None:
    long = next(r for r in both if "bulk" in r.chapters)
    assert any(x.life is not None for x in long.chapters["bulk"].left_out)
    pairing = long.chapters["pairing"]
    for step in (None, 1.0):
        chapters = dict(long.chapters) | {"pairing": replace(pairing, compared_to_h=step)}
        blocks = compose_bulk(replace(long, chapters=chapters)).blocks
        said = [b.text for b in blocks if isinstance(b, Statement)]
        assert (NOT_CUT in said) == (step is not None)
