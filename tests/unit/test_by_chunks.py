"""A table studied by chunks answers as the same rows read whole; which it is goes by size."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from fleetstats.advice.results import Results
from fleetstats.chapters.analysis import figures as analysis_figures
from fleetstats.chapters.analysis.figures import (
    POINTS_DRAWN,
    probability_figure,
    survival_figure,
    thin,
)
from fleetstats.chapters.compose import compose_report
from fleetstats.chapters.data import LEFT_OUT
from fleetstats.chapters.exposure import section as exposure
from fleetstats.chapters.exposure.section import LIVES_DRAWN, fleet_figure, half_of
from fleetstats.cli import main
from fleetstats.core.kept import Same, kept
from fleetstats.document.document import Figure, Layer, Statement, Table
from fleetstats.document.parts import find_figures
from fleetstats.studies import by_chunks as by_chunks_module
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import read_study

STUDY = """\
[study]
title = "Many parts"
analysis_date = 2026-02-01
claimed_interval_h = {claim}
[fleet]
built = 4000
[merge]
returns = false
{more}
[[records]]
file = "parts.csv"
"""


def make(folder: Path, n: int = 2500, *, claim: int = 400, more: str = "", odd: str = "") -> Path:
    """Write an invented table with a misspelt cause, old readings and a row to set aside."""
    rng = np.random.default_rng(8)
    entry = np.where(rng.random(n) < 0.3, np.round(rng.uniform(0, 400, n), 0), 0.0)
    life = 1500 * (rng.exponential(size=n) + (entry / 1500) ** 2.6) ** (1 / 2.6)
    stop = entry + np.round(rng.uniform(20, 900, n), 0)
    end = np.maximum(np.round(np.minimum(life, stop), 0), entry + 1)
    failed = life <= stop
    lines = ["engine,entry_hours,exit_hours,ending,cause,last_reading_date"]
    lines += [
        f"E{i:05d},{entry[i]:g},{end[i]:g},{'failed' if failed[i] else 'running'},"
        f"{'piston' if failed[i] else ''},{'2024-03-01' if i % 50 == 0 else '2026-01-15'}"
        for i in range(n)
    ]
    (folder / "parts.csv").write_text("\n".join(lines) + f"\n{odd}", encoding="utf-8")
    text = STUDY.format(claim=claim, more=more)
    (folder / "study.toml").write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory):  # type: ignore[no-untyped-def]
    folder = make(tmp_path_factory.mktemp("long"))
    study = read_study(folder)
    return analyse(study, chunks=True), analyse(study, chunks=False)


def test_answers_are_those_of_an_ordinary_study(pair) -> None:  # type: ignore[no-untyped-def]
    r, study = pair
    assert len(r.spells) < len(study.spells)
    assert r.spells.weight.sum() == study.spells.weight.sum()
    assert r.fit.shape == pytest.approx(study.fit.shape, rel=1e-9)
    assert r.fit.scale_h == pytest.approx(study.fit.scale_h, rel=1e-9)
    for a, b in zip(r.sureness.lives, study.sureness.lives, strict=True):
        assert (a.low, a.estimate, a.high) == pytest.approx((b.low, b.estimate, b.high), rel=1e-6)
    np.testing.assert_allclose(
        r.description.product_limit.reliability,
        study.description.product_limit.reliability,
        rtol=1e-12,
    )
    np.testing.assert_allclose(
        r.description.exposure.exposure_h, study.description.exposure.exposure_h, rtol=1e-12
    )
    assert r.advice.overhaul_band.sentence == study.advice.overhaul_band.sentence
    assert r.advice.verdict.sentence == study.advice.verdict.sentence
    assert r.advice.horizon.sentence == study.advice.horizon.sentence
    mine, theirs = r.chapters["claim"], study.chapters["claim"]
    assert (mine.state, mine.n_engines, mine.n_failed, mine.hidden_to_turn) == (
        theirs.state, theirs.n_engines, theirs.n_failed, theirs.hidden_to_turn,
    )  # fmt: skip
    assert r.built.n_fate_unknown == study.built.n_fate_unknown == 1500
    assert r.built.funnel.holds


def test_the_report_accounts_for_every_row_and_says_what_it_leaves_out(
    tmp_path: Path,
) -> None:
    odd = "E99998,10,many,running,,2026-01-15\nE99999,0,100,failed,Piston,2026-01-15\n\n"
    folder = make(tmp_path, more='[treat]\nhours-unreadable = "set-aside"', odd=odd)
    long = analyse(read_study(folder), chunks=True)
    bulk = long.chapters["bulk"]
    assert (bulk.n_read, bulk.n_used, bulk.n_set_aside) == (2502, 2501, 1)
    document = compose_report(long)
    data = next(s for s in document.sections if s.key == "data")
    words = " ".join(b.text for b in data.blocks if isinstance(b, Statement))
    assert "2,502 rows read = 2,501 used + 1 set aside" in words
    assert all(x in words for x in LEFT_OUT)
    kinds = next(b for b in data.blocks if isinstance(b, Table) and b.key == "findings-by-kind")
    counts = {row[1]: row[4] for row in kinds.rows}
    assert counts["reading-stale"] == bulk.counts["reading-stale"] > 10
    first = next(b for b in data.blocks if isinstance(b, Table) and b.key == "findings")
    assert sum(row[0] == "reading-stale" for row in first.rows) == 5


def test_the_verb_writes_a_report_and_says_the_same_in_json(tmp_path: Path) -> None:
    folder = make(tmp_path, 600)
    out = tmp_path / "out"
    got = CliRunner().invoke(
        main, ["study", str(folder), "--chunks", "--out", str(out), "--json", "--quiet"]
    )
    assert got.exit_code == 0, got.output
    told = json.loads(got.stdout)
    assert told["schema"] == "fleetstats/results/1"
    assert told["chapters"]["bulk"]["n_read"] == 600
    assert "spells" not in told["chapters"]["bulk"]
    assert json.loads((out / "results.json").read_text()) == told
    assert (out / "report.pdf").stat().st_size > 10_000


def test_what_stops_a_study_stops_the_verb_and_writes_nothing(tmp_path: Path) -> None:
    folder = make(tmp_path, 50, odd="E9,0,100,exploded,,\n")
    got = CliRunner().invoke(
        main, ["study", str(folder), "--chunks", "--out", str(tmp_path / "out")]
    )
    assert got.exit_code == 1
    assert "parts.csv row 52, column 'ending': 'exploded'" in got.stderr
    assert not (tmp_path / "out").exists()


def test_no_failures_give_a_claim_and_no_fit(tmp_path: Path) -> None:
    lines = ["engine,exit_hours,ending", *(f"E{i},{100 + i % 900},running" for i in range(3000))]
    (tmp_path / "parts.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (tmp_path / "study.toml").write_text(STUDY.format(claim=300, more=""), encoding="utf-8")
    r = analyse(read_study(tmp_path), chunks=True)
    assert r.fit is None
    assert r.no_fit
    assert r.chapters["claim"].n_engines == 3000
    compose_report(r)


def test_curves_of_many_steps_are_drawn_with_few(
    pair,  # type: ignore[no-untyped-def]
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    x = np.sort(np.random.default_rng(1).uniform(0, 1000, 30_000))
    at = thin(x)
    assert len(at) <= POINTS_DRAWN + 1
    assert at[0] == 0
    assert at[-1] == len(x) - 1
    assert np.diff(x[at]).max() < 2.5 * 1000 / POINTS_DRAWN
    np.testing.assert_array_equal(thin(x[:40]), np.arange(40))
    monkeypatch.setattr(analysis_figures, "thin", lambda x: thin(x, 40))
    study = pair[1]
    curve = study.description.product_limit
    steps = [v for v in _layers(survival_figure(study)) if v.kind == "step"]
    assert 20 < len(steps[0].x) <= 44 < len(curve.hours)
    # the steps drawn are steps of the curve
    np.testing.assert_array_equal(
        steps[0].y[1:-1], curve.reliability[np.searchsorted(curve.hours, steps[0].x[1:-1])]
    )
    plot = probability_figure(study)
    assert plot is not None
    points = [v for v in _layers(plot) if v.kind == "points"]
    assert len(points[0].x) <= 41
    assert points[0].label == "failures, some of them"


def test_of_very_many_lives_no_sample_is_drawn(
    pair,  # type: ignore[no-untyped-def]
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    study = pair[1]
    bars = sum(len(v.x) for v in _layers(fleet_figure(study)) if v.kind == "spans")
    assert LIVES_DRAWN < bars <= LIVES_DRAWN + study.spells.n_failed
    monkeypatch.setattr(exposure, "LIVES_DRAWN", 100)
    figure = fleet_figure(study)
    assert sum(len(v.x) for v in _layers(figure) if v.kind == "spans") <= 100
    assert "every failure" not in figure.see
    assert "fleet" in {f.key for f in find_figures(compose_report(study))}
    monkeypatch.setattr(exposure, "LIVES_TOLD", 1000)
    assert "fleet" not in {f.key for f in find_figures(compose_report(study))}


def _layers(figure: Figure) -> list[Layer]:
    return [v for p in figure.panels for v in p.layers]


def test_what_is_kept_is_kept_for_the_very_object(pair) -> None:  # type: ignore[no-untyped-def]
    spells = pair[0].spells
    one, other = [1], [1]
    assert kept(spells, ("test", Same(one)), lambda: "one") == "one"
    assert kept(spells, ("test", Same(other)), lambda: "other") == "other"
    assert kept(spells, ("test", Same(one)), lambda: "again") == "one"


@pytest.mark.parametrize("weight", [[1, 1, 1, 1], [3, 1, 1, 1], [2, 1, 1], [1, 2, 5]])
def test_half_of_rows_that_stand_for_many_is_the_median_of_all(weight: list[int]) -> None:
    hours = np.array([40.0, 10.0, 20.0, 90.0])[: len(weight)]
    assert half_of(hours, np.array(weight, float)) == np.median(np.repeat(hours, weight))


def test_no_pair_of_entry_and_end_is_called_an_engine(tmp_path: Path) -> None:
    # without the one engine that ran ten times as long the verdict on 400 h would turn
    rows = [f"E{i},{400 + 10 * (i % 9)},running" for i in range(20)]
    text = "\n".join(["engine,exit_hours,ending", *rows, "E99,4000,running"])
    (tmp_path / "parts.csv").write_text(text + "\n", encoding="utf-8")
    (tmp_path / "study.toml").write_text(STUDY.format(claim=400, more=""), encoding="utf-8")
    study = read_study(tmp_path)
    assert "one-unit" in {c.code for c in analyse(study).advice.cautions}
    long = analyse(study, chunks=True)
    assert len(long.spells) < 12
    assert "one-unit" not in {c.code for c in long.advice.cautions}


def test_hours_with_more_digits_than_meters_show_are_rounded_and_that_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rng = np.random.default_rng(2)
    life, stop = 1500 * rng.weibull(2.6, 900), rng.uniform(100, 1400, 900)
    lines = ["engine,exit_hours,ending,cause"]
    lines += [
        f"E{i},{min(a, b):.9f},{'failed,piston' if a < b else 'running,'}"
        for i, (a, b) in enumerate(zip(life, stop, strict=True))
    ]
    (tmp_path / "parts.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (tmp_path / "study.toml").write_text(STUDY.format(claim=400, more=""), encoding="utf-8")
    study = read_study(tmp_path)
    exact = analyse(study, chunks=True)
    monkeypatch.setattr(by_chunks_module, "MOST_ROWS", 100)
    rounded = analyse(study, chunks=True)
    assert exact.chapters["pairing"].rounded_to_h is None
    assert rounded.chapters["pairing"].rounded_to_h == pytest.approx(0.01)
    assert rounded.fit.shape == pytest.approx(exact.fit.shape, rel=1e-5)
    assert "rounded to 0.01 h" not in _words(exact)
    assert "rounded to 0.01 h, and below 10 h to four digits" in _words(rounded)


def _words(long: Results) -> str:
    document = compose_report(long)
    return " ".join(b.text for s in document.sections for b in s.blocks if isinstance(b, Statement))
