"""Whom to ring up: the list, what is assumed for it, and the answers read back."""

from __future__ import annotations

import csv
import datetime as dt
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from openpyxl import load_workbook

from fleetstats.advice.advice import VERDICTS
from fleetstats.advice.judge import judge_claim
from fleetstats.advice.quoted import Quoter
from fleetstats.chapters.calls import CallList, list_calls
from fleetstats.chapters.calls.answers import answered
from fleetstats.chapters.calls.whom import Askable, find_asked
from fleetstats.core.errors import ArgumentError, SettingError
from fleetstats.report.call_sheet import BOXES, KNOWN, write_call_sheet
from fleetstats.studies.single import LightBase, read_base
from fleetstats.study.study import read_study
from fleetstats.survival.weibull.fit_weibull import try_fit

HEADS = (*KNOWN, *BOXES)
DAY = "2026-06-30"
STUDY = """\
[study]
title = "Invented engines"
analysis_date = {day}
claimed_interval_h = 1000
[fleet]
hours_per_year = 120
{fleet}
[treat]
hours-missing = "set-aside"
{more}
[[records]]
file = "lives.csv"
source = "north"
"""
COLUMNS = "engine,source,exit_hours,ending,cause,in_service_date,last_reading_date,ended_date"


def folder_of(
    at: Path, rows: list[str], *, more: str = "", fleet: str = "", columns: str = COLUMNS
) -> Path:
    """Write a study of lives, all invented."""
    at.mkdir(exist_ok=True)
    (at / "study.toml").write_text(STUDY.format(day=DAY, more=more, fleet=fleet), encoding="utf-8")
    (at / "lives.csv").write_text("\n".join([columns, *rows]) + "\n", encoding="utf-8")
    return at


def fresh(n: int, seed: int = 3) -> list[str]:
    """Return lives of running engines that were read on the analysis date."""
    ages = np.random.default_rng(seed).uniform(200.0, 1300.0, n)
    return [f"F{i},north,{h:.1f},running,,2016-06-30,{DAY}," for i, h in enumerate(ages)]


STALE = [
    "S-1,west,700,running,,2016-06-30,2021-06-30,",
    "S-2,west,900,running,,2016-06-30,2023-06-30,",
    "S-3,east,100,running,,2016-06-30,2025-06-30,",
    "L-1,east,800,lost,,2015-06-30,,2022-06-30",
]


@cache
def base_of(at: Path) -> LightBase:
    return read_base(read_study(at))


@pytest.fixture(scope="module")
def stale(tmp_path_factory: pytest.TempPathFactory) -> Path:
    rows = [*fresh(40), "X,north,610,failed,piston,2016-06-30,,2021-06-30", *STALE]
    return folder_of(tmp_path_factory.mktemp("calls") / "stale", rows)


@pytest.fixture(scope="module")
def calls(stale: Path) -> CallList:
    return list_calls(base_of(stale), most=3)


def test_hours_since_the_last_reading_go_by_the_use_per_year(calls: CallList) -> None:
    # by hand: S-1 ran 700 h in the 5 years to its reading, so 140 h a year, and 5 years more
    by = {x.engine: x for x in calls.lines}
    assert set(by) == {"S-1", "S-2", "S-3", "L-1"}
    assert by["S-1"].use_from == "own"
    assert by["S-1"].expected_h == pytest.approx(1400.0, rel=1e-3)
    assert by["S-3"].expected_h == pytest.approx(100.0 * 10 / 9, rel=1e-3)
    assert by["L-1"].kind == "lost"
    assert by["L-1"].known_on == dt.date(2022, 6, 30)
    assert calls.unread_h == pytest.approx(sum(x.unread_h for x in calls.lines))


def test_the_bound_today_is_the_one_that_the_claim_quotes(stale: Path, calls: CallList) -> None:
    base = base_of(stale)
    judged = judge_claim(Quoter.of(base.spells, base.fit, base.settings), 1000.0, calls.target)
    assert calls.high_now == judged.failure_high
    assert calls.word_now == judged.word


def test_the_bound_without_bad_news_is_that_of_the_fleet_with_those_hours(
    stale: Path, calls: CallList
) -> None:
    base = base_of(stale)
    first = [next(x for x in find_asked(base).asked if x.engine == c.name) for c in calls.calls[:3]]
    ends = np.array([x.to_h for x in first])
    told = answered(base.spells, first, ends, np.zeros(3, dtype=bool))
    assert told.exposure_h - base.spells.exposure_h == pytest.approx(sum(x.unread_h for x in first))
    assert len(told) == len(base.spells)
    judged = judge_claim(Quoter.of(told, base.fit, base.settings), 1000.0, calls.target)
    assert calls.together is not None
    assert calls.together.if_good == pytest.approx(judged.failure_high)
    # the last line of the table is the same number
    assert calls.calls[2].high_if_good == pytest.approx(calls.together.if_good, rel=1e-6)
    assert calls.calls[2].chance_bad_so_far == pytest.approx(calls.together.chance_bad)
    assert calls.calls[3].high_if_good is None


def test_the_expected_bound_is_that_of_both_answers(calls: CallList) -> None:
    t = calls.together
    assert t is not None
    assert t.expected == pytest.approx((1 - t.chance_bad) * t.if_good + t.chance_bad * t.if_bad)
    assert t.if_good < calls.high_now < t.if_bad
    assert 0.0 < t.chance_bad < 1.0


def test_who_has_run_longest_unread_near_the_claim_comes_first(calls: CallList) -> None:
    assert calls.calls[0].name == "S-1"
    assert calls.calls[-1].name == "S-3"  # eleven hours, far below the claim


def test_what_a_call_alone_changes_is_that_of_its_two_answers(stale: Path, calls: CallList) -> None:
    base = base_of(stale)
    asked = {x.engine: x for x in find_asked(base).asked}

    def bound(x: Askable, end_h: float, *, failed: bool) -> float:
        told = answered(base.spells, [x], np.array([end_h]), np.array([failed]))
        fit = try_fit(told)
        return judge_claim(Quoter.of(told, fit, base.settings), 1000.0, calls.target).failure_high

    exact = {}
    for c in calls.calls:
        x = asked[c.name]
        ages = x.from_h + (np.arange(8) + 0.5) / 8 * x.unread_h
        bad = np.mean([bound(x, h, failed=True) for h in ages])
        good = bound(x, x.to_h, failed=False)
        exact[c.name] = (1.0 - c.chance_bad) * good + c.chance_bad * bad - calls.high_now
        # failures are spread evenly here, and the effect of one is interpolated there
        assert c.change == pytest.approx(exact[c.name], rel=0.2, abs=2e-4)
    assert calls.calls[0].name == max(exact, key=lambda n: abs(exact[n]))


def test_the_sentence_says_both_bounds_and_the_chance_of_bad_news(calls: CallList) -> None:
    t = calls.together
    assert t is not None
    assert calls.sentence.startswith("3 calls are expected to take the bound at 1,000 h from ")
    assert "if none brings bad news" in calls.sentence
    assert "The chance that one engine or more failed unheard is " in calls.sentence
    assert VERDICTS[t.word_if_good] in calls.sentence
    assert any("leaving an answer out does" in x for x in calls.assumptions)


def test_an_owner_is_asked_about_all_engines_at_once(stale: Path) -> None:
    calls = list_calls(base_of(stale), by="owner")
    assert {c.name: c.n_engines for c in calls.calls} == {"west": 2, "east": 2}
    first = calls.calls[0]
    mine = [x.chance_bad for x in calls.lines if x.call == 1]
    # under each law engines fail apart, so over laws together they do so no less than if apart
    assert max(mine) < first.chance_bad <= 1.0 - np.prod(1.0 - np.array(mine)) + 1e-9


def test_engines_without_hours_and_serials_never_heard_of_are_asked_too(tmp_path: Path) -> None:
    rows = [*fresh(30), *STALE, "N-1,west,,running,,2020-06-30,,", "N-2,west,,failed,,,,"]
    at = folder_of(tmp_path / "s", rows, fleet='serials_file = "serials.txt"')
    serials = [r.split(",")[0] for r in rows] + ["U-1"]
    (at / "serials.txt").write_text("serial\n" + "\n".join(serials) + "\n", encoding="utf-8")
    base = read_base(read_study(at))
    by = {x.engine: x for x in find_asked(base).asked}
    # by hand: six years at the stated 120 h a year; what is known of U-1 is only that it was built
    assert by["N-1"].to_h == pytest.approx(720.0, rel=1e-3)
    assert by["U-1"].kind == "unknown"
    assert by["N-2"].kind == "failed-no-hours"
    calls = list_calls(base)
    told = {x.engine: x for x in calls.lines}
    assert told["N-1"].known_h is None
    assert told["N-2"].expected_h is None
    assert told["N-2"].chance_bad == 0.0  # that it failed is known
    assert (
        calls.high_now
        > judge_claim(
            Quoter.of(base.spells, base.fit, base.settings), 1000.0, calls.target
        ).failure_high
    )
    # its hours, once told, count it at its age and not at the least favourable one
    x = by["N-2"]
    fleet = answered(base.spells, [x], np.array([500.0]), np.array([True]))
    assert fleet.n_left_out == base.spells.n_left_out - 1
    assert fleet.n_failed == base.spells.n_failed + 1


def test_who_is_not_on_the_list_is_counted(tmp_path: Path) -> None:
    rows = [*fresh(20), "D-1,west,400,running,,,,"]
    calls = list_calls(read_base(read_study(folder_of(tmp_path / "s", rows))))
    assert calls.state == "nothing-to-ask"
    assert calls.together is None
    assert "1 engine without any date" in " ".join(calls.assumptions)


def test_an_impossible_question_is_refused(stale: Path) -> None:
    base = base_of(stale)
    for wrong in ({"by": "colour"}, {"most": 0}, {"hours": -1.0}):
        with pytest.raises(ArgumentError, match=f"^{next(iter(wrong))} = "):
            list_calls(base, **wrong)  # type: ignore[arg-type]


# -- the list written, filled in and read back ----------------------------------------------------

ANSWERS: dict[str, dict[str, Any]] = {
    "S-1": {"Hours now [h]": 1250, "Date of reading": dt.date(2026, 6, 20),
            "Outcome": "running"},
    "S-2": {"Hours now [h]": 1010.5, "Date of reading": dt.date(2024, 9, 1),
            "Outcome": "failed", "Since when": dt.date(2024, 9, 1), "Reason": "piston"},
}  # fmt: skip


def fill_xlsx(path: Path, answers: dict[str, dict[str, Any]]) -> None:
    book = load_workbook(path)
    sheet = book["Calls"]
    heads = [c.value for c in sheet[1]]
    for row in sheet.iter_rows(min_row=2):
        for head, told in answers.get(str(row[1].value), {}).items():
            row[heads.index(head)].value = told
    book.save(path)


def fill_csv(path: Path, answers: dict[str, dict[str, Any]]) -> None:
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        row |= {k: str(v) for k, v in answers.get(row["Engine"], {}).items()}
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, HEADS)
        writer.writeheader()
        writer.writerows(rows)


def read_with(at: Path, name: str) -> LightBase:
    study = at / "study.toml"
    sheet = '\nsheet = "Calls"' if name.endswith(".xlsx") else ""
    text = study.read_text(encoding="utf-8")
    study.write_text(text + f'[[records]]\nfile = "{name}"{sheet}\n', encoding="utf-8")
    return read_base(read_study(at))


@pytest.mark.parametrize("name", ["calls.xlsx", "calls.csv"])
def test_a_list_filled_in_is_a_record_file_that_extends_the_lives(
    tmp_path: Path, name: str
) -> None:
    rows = [*fresh(20), *STALE]
    at = folder_of(tmp_path / "s", rows)
    before = read_base(read_study(at))
    write_call_sheet(list_calls(before), at / name)
    (fill_xlsx if name.endswith("xlsx") else fill_csv)(at / name, ANSWERS)
    after = read_with(at, name)
    account = next(a for a in after.audit.accounts if a.file == name)
    assert account.n_read == len(STALE) == account.n_used + account.n_set_aside
    assert account.reasons["call-unanswered"] == 2
    # no engine is there twice, and nobody who was not asked has changed
    assert len(after.spells) == len(before.spells)
    assert sorted(after.spells.unit) == sorted(before.spells.unit)
    ends = {r.engine: (r.exit_h, r.ending, r.source) for r in after.built.rows}
    assert ends["S-1"] == (1250.0, "running", "west")
    assert ends["S-2"] == (1010.5, "failed", "west")
    assert ends["S-3"][:2] == (100.0, "running")
    assert after.spells.n_failed == before.spells.n_failed + 1
    assert after.spells.exposure_h - before.spells.exposure_h == pytest.approx(550.0 + 110.5)
    assert after.records.merged is not None
    assert not after.records.merged.conflicts
    # and asked again, those who answered are on the list no more, or for days only
    again = {x.engine: x for x in list_calls(after).lines}
    assert "S-2" not in again
    assert again["S-1"].unread_h < 5.0


def test_a_list_not_filled_in_changes_nothing(tmp_path: Path) -> None:
    at = folder_of(tmp_path / "s", [*fresh(20), *STALE], fleet='serials_file = "serials.txt"')
    serials = ["serial", "U-1", *(r.split(",")[0] for r in [*fresh(20), *STALE])]
    (at / "serials.txt").write_text("\n".join(serials) + "\n", encoding="utf-8")
    before = read_base(read_study(at))
    assert before.built.n_fate_unknown == 1
    write_call_sheet(list_calls(before), at / "calls.csv")
    after = read_with(at, "calls.csv")
    assert after.spells == before.spells
    # a serial that was only asked about is as unknown as before
    assert after.built.n_fate_unknown == 1


def test_hours_since_overhaul_are_asked_since_new_and_find_their_life(tmp_path: Path) -> None:
    columns = "engine,exit_hours,ending,overhauled_at_hours,in_service_date,last_reading_date"
    rows = [
        *(f"A{i},{400 + 20 * i},running,,2020-06-30,{DAY}" for i in range(20)),
        "B-1,1200,planned-overhaul,,2010-06-30,2018-06-30",
        "B-1,1500,running,1200,2010-06-30,2022-06-30",
    ]
    at = folder_of(
        tmp_path / "s", rows, more='[hours]\nbasis = "since-overhaul"\n', columns=columns
    )
    before = read_base(read_study(at))
    calls = list_calls(before)
    line = next(x for x in calls.lines if x.engine == "B-1")
    assert (line.known_h, line.overhauled_at_h) == (1500.0, 1200.0)
    write_call_sheet(calls, at / "calls.csv")
    fill_csv(at / "calls.csv", {"B-1": {"Hours now [h]": 1900, "Date of reading": "2026-06-29",
                                        "Outcome": "running"}})  # fmt: skip
    after = read_with(at, "calls.csv")
    assert len(after.spells) == len(before.spells)
    mine = [r for r in after.built.rows if r.engine == "B-1"]
    assert sorted(r.exit_h for r in mine) == [700.0, 1200.0]


def test_an_owner_reads_the_meter_that_the_records_name(tmp_path: Path) -> None:
    columns = COLUMNS + ",meter"
    rows = [r + "," for r in fresh(20)]
    rows.append("T-1,west,800,running,,2016-06-30,2022-06-30,,tach")
    at = folder_of(tmp_path / "s", rows, more="[hours.factors]\ntach = 1.1\n", columns=columns)
    before = read_base(read_study(at))
    calls = list_calls(before)
    line = next(x for x in calls.lines if x.engine == "T-1")
    assert (line.known_h, line.meter) == (800.0, "tach")
    write_call_sheet(calls, at / "calls.csv")
    fill_csv(at / "calls.csv", {"T-1": {"Hours now [h]": 1000, "Date of reading": "2026-06-29",
                                        "Outcome": "running"}})  # fmt: skip
    after = read_with(at, "calls.csv")
    assert [r.exit_h for r in after.built.rows if r.engine == "T-1"] == pytest.approx([1100.0])


def test_names_that_look_like_formulas_stay_names(tmp_path: Path) -> None:
    at = folder_of(tmp_path / "s", [*fresh(20), '"=2+3",west,700,running,,2016-06-30,2022-06-30,'])
    calls = list_calls(read_base(read_study(at)))
    cell = load_workbook(write_call_sheet(calls, tmp_path / "c.xlsx"))["Calls"]["B2"]
    assert (cell.value, cell.data_type) == ("=2+3", "s")
    text = write_call_sheet(calls, tmp_path / "c.csv").read_text(encoding="utf-8")
    assert "'=2+3" in text
    with pytest.raises(SettingError, match="xlsx"):
        write_call_sheet(calls, tmp_path / "c.pdf")
