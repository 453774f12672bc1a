"""Many families: each studied by itself, none stopping another, ranked with false alarms held."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from portfolio_tables import HEAD, family_lines, write_table

from fleetstats.advice.advise import advise_hours
from fleetstats.core.crew import Crew
from fleetstats.core.errors import ReadError, SettingError
from fleetstats.portfolio import family as family_module
from fleetstats.portfolio.family import FamilyRow, advise_family
from fleetstats.portfolio.ranking import Portfolio, rank_families, run_portfolio
from fleetstats.records.split_families import FamilyList, read_portfolio
from fleetstats.studies.analyse import analyse, read_lives_of
from fleetstats.study.study import read_study
from fleetstats.survival.weibull.fit_weibull import fit_weibull

GOOD = [*family_lines("crank", 40, seed=1), *family_lines("valve", 40, seed=2),
        *family_lines("pump", 40, seed=3)]  # fmt: skip
BAD = "B-1,bad one,100,exploded,2025-01-01,2025-12-31,"
NAMELESS = "N-1,,100,running,2025-01-01,2025-12-31,"


def answer(portfolio: Portfolio) -> dict[str, FamilyRow]:
    return {r.row.family: r.row for r in portfolio.ranked}


@pytest.fixture
def table(tmp_path: Path) -> FamilyList:
    return read_portfolio(write_table(tmp_path / "table", [*GOOD, BAD, NAMELESS]))


def test_every_row_of_the_table_is_in_a_family_or_set_aside(table: FamilyList) -> None:
    rows = {f.name: sum(len(o.table.rows) for o in (f.opened or {}).values())
            for f in table.families}  # fmt: skip
    assert rows == {"bad one": 1, "crank": 40, "pump": 40, "valve": 40}
    assert table.n_read == 122
    assert [(s.row, s.reason) for s in table.set_aside] == [(123, "family-missing")]


def test_a_family_of_a_table_is_judged_as_a_study_of_its_rows_alone(
    table: FamilyList, tmp_path: Path
) -> None:
    """The same rows in a study of their own give the same answer, with the file's own numbers."""
    alone = write_table(tmp_path / "alone", family_lines("pump", 40, seed=3))
    text = (alone / "study.toml").read_text().replace('family = "component"', "")
    (alone / "study.toml").write_text(text)
    study = read_study(alone)
    spells = read_lives_of(study)[2].spells
    want = advise_hours(spells, fit_weibull(spells), study.settings)
    got = answer(run_portfolio(table))["pump"]
    assert got.plan_from_h == want.overhaul_band.plan_from.hours
    assert got.sentence == want.overhaul_band.sentence
    assert got.n_failed == spells.n_failed
    assert got.life is not None
    assert want.reliability.life is not None
    assert got.life.low == pytest.approx(want.reliability.life.low, rel=1e-12)


def test_findings_name_the_rows_of_the_whole_file(table: FamilyList) -> None:
    bad = answer(run_portfolio(table))["bad one"]
    assert bad.state == "stopped"
    assert "parts.csv row 122, column 'ending'" in bad.message


def test_one_family_that_fails_never_stops_the_rest(
    table: FamilyList, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = family_module._row

    def broken(family: Any, audit: Any, built: Any) -> FamilyRow:
        if family.name == "valve":
            raise ZeroDivisionError("a slip of ours")
        return real(family, audit, built)

    monkeypatch.setattr(family_module, "_row", broken)
    got = run_portfolio(table)
    assert {r.family: r.state for r in answer(got).values()} == {
        "bad one": "stopped", "crank": "done", "pump": "done", "valve": "failed",
    }  # fmt: skip
    assert answer(got)["valve"].message == "ZeroDivisionError: a slip of ours"
    assert [r.rank for r in got.ranked] == [1, 2, 0, 0]
    assert "2 without an answer" in got.sentences[0]


def test_results_are_the_same_to_the_bit_whoever_does_the_work(table: FamilyList) -> None:
    assert run_portfolio(table, crew=Crew(workers=2)) == run_portfolio(table)


def test_finished_families_are_not_done_again(table: FamilyList) -> None:
    kept: dict[str, FamilyRow] = {}
    first = run_portfolio(table, keep=lambda row: kept.update({row.digest: row}))
    done: list[FamilyRow] = []
    again = run_portfolio(table, kept=kept, keep=done.append)
    assert done == []
    assert again == first


@pytest.mark.parametrize("change", ["a row", "a setting"])
def test_a_family_whose_inputs_changed_is_done_again(
    table: FamilyList, tmp_path: Path, change: str
) -> None:
    kept: dict[str, FamilyRow] = {}
    run_portfolio(table, keep=lambda row: kept.update({row.digest: row}))
    lines = [*GOOD, BAD, NAMELESS]
    study = ""
    if change == "a row":
        lines[0] = lines[0].replace("crank-0", "crank-x")
    else:
        study = "confidence = 0.8"
    other = read_portfolio(write_table(tmp_path / "other", lines, study=study))
    done: list[FamilyRow] = []
    run_portfolio(other, kept=kept, keep=done.append)
    changed = {r.family for r in done}
    assert changed == ({"crank"} if change == "a row" else {"bad one", "crank", "pump", "valve"})


def test_a_folder_of_studies_is_a_portfolio(tmp_path: Path) -> None:
    for name, seed in (("one", 1), ("two", 2)):
        folder = write_table(tmp_path / name, family_lines("x", 30, seed=seed))
        text = (folder / "study.toml").read_text().replace('family = "component"', "")
        (folder / "study.toml").write_text(text)
    (tmp_path / "wrong").mkdir()
    (tmp_path / "wrong" / "study.toml").write_text("[study]\ntitel = 3\n")
    (tmp_path / "notes").mkdir()
    families = read_portfolio(tmp_path)
    got = answer(run_portfolio(families))
    assert {k: r.state for k, r in got.items()} == {"one": "done", "two": "done",
                                                    "wrong": "stopped"}  # fmt: skip
    assert "Did you mean 'title'?" in got["wrong"].message


def test_names_that_differ_in_case_or_signs_are_one_family(tmp_path: Path) -> None:
    lines = [x.replace(",crank,", ",Crank ," if i % 2 else ",crank,")
             for i, x in enumerate(family_lines("crank", 30, seed=1))]  # fmt: skip
    families = read_portfolio(write_table(tmp_path, lines))
    assert [f.name for f in families.families] == ["crank"]


def test_slugs_tell_names_apart(tmp_path: Path) -> None:
    one = [x.replace(",crank,", name) for name in (',"a/b",', ",a.b,", ",../x,", ",Ä,")
           for x in family_lines("crank", 2, seed=1)]  # fmt: skip
    slugs = [f.slug for f in read_portfolio(write_table(tmp_path, one)).families]
    assert len(set(slugs)) == 4
    assert all(set(s) <= set("abcdefghijklmnopqrstuvwxyz0123456789-") for s in slugs)


def test_the_whole_file_settles_how_its_dates_are_read(tmp_path: Path) -> None:
    """01/02/2024 alone could be January or February; another family's 25/12 tells."""
    rows = ["C-1,a,100,running,01/02/2024,31/12/2025,", "C-2,b,100,running,25/12/2023,31/12/2025,"]
    families = read_portfolio(write_table(tmp_path, rows))
    got = {f.name: f.study.files[0].date_order for f in families.families if f.study}
    assert got == {"a": "day-first", "b": "day-first"}


def test_a_table_of_families_is_not_studied_as_one_fleet(table: FamilyList) -> None:
    assert table.study is not None
    with pytest.raises(SettingError, match="many families"):
        analyse(table.study)


@pytest.mark.parametrize(
    ("change", "error", "said"),
    [
        (lambda f: (f / "study.toml").unlink(), SettingError, "holds no portfolio"),
        (lambda f: (f / "parts.csv").write_text(HEAD.replace("component", "part") + "\n"),
         ReadError, "no column 'component'"),
        (lambda f: (f / "parts.csv").write_bytes(b""), ReadError, "The file is empty"),
        (lambda f: (f / "study.toml").write_text(
            (f / "study.toml").read_text().replace('family = "component"', "")),
         SettingError, "portfolio.family is not set"),
        (lambda f: (f / "study.toml").write_text(
            (f / "study.toml").read_text() + "[fleet]\nbuilt = 5\n"),
         SettingError, "fleet.built and fleet.serials_file speak of one family"),
    ],
    ids=["no study", "no column", "empty", "no family set", "built"],
)  # fmt: skip
def test_what_is_no_portfolio_is_told(
    tmp_path: Path, change: Callable[[Path], Any], error: type[Exception], said: str
) -> None:
    folder = write_table(tmp_path / "table", GOOD[:3])
    change(folder)
    with pytest.raises(error, match=said):
        read_portfolio(folder)


def _row(name: str, p: float | None, like: FamilyRow) -> FamilyRow:
    assert like.year is not None
    year = replace(like.year, p_worse=p, p_worse_at_age=p)
    return replace(like, family=name, slug=name, year=year)


def test_false_alarms_are_held_over_the_families_compared(table: FamilyList) -> None:
    """Chances 0.01, 0.04, 0.05, 0.9 and one without a comparison: by hand the values are
    4 x 0.01, 4/3 x 0.05 (twice) and 0.9, so at a share of 0.05 the first alone is called.
    """
    like = advise_family(next(f for f in table.families if f.name == "pump"))
    rows = [_row(n, p, like) for n, p in
            (("a", 0.05), ("b", 0.9), ("c", 0.01), ("d", None), ("e", 0.04))]  # fmt: skip
    got = rank_families(table, rows, share=0.05)
    assert got.n_compared == 4
    assert got.ranked[0].row.family == "c"
    q = {r.row.family: r.q_worse for r in got.ranked}
    assert q["d"] is None
    assert [q[k] for k in "caeb"] == pytest.approx([0.04, 0.2 / 3, 0.2 / 3, 0.9])
    assert [r.row.family for r in got.ranked if r.worse] == ["c"]
    assert [r.worse for r in rank_families(table, rows, share=0.07).ranked] == [
        True, True, True, False, False,
    ]  # fmt: skip


def test_a_family_that_got_worse_is_found(tmp_path: Path) -> None:
    lines = [
        line
        for k in range(8)
        for line in family_lines(f"p{k}", 60, seed=20 + k, worse=8.0 if k == 3 else 1.0)
    ]
    got = run_portfolio(read_portfolio(write_table(tmp_path, lines)), crew=Crew(workers=1))
    assert got.ranked[0].row.family == "p3"
    assert got.ranked[0].worse
    assert got.ranked[0].worse_at_age
    assert sum(r.worse_at_age for r in got.ranked) == 1
