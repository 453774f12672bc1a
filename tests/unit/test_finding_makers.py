"""Every code of the catalogue of findings is raised by a small study made for it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from finding_makers import BYTES, CONDITION, LIVES, LOGS, MERGES, TWO, WRITERS
from finding_makers_histories import HISTORIES
from scipy.stats import binom

from fleetstats.records.audit.audit import audit_records
from fleetstats.records.audit.fleet_counts import tell_heap
from fleetstats.records.condition.condition import read_condition
from fleetstats.records.readers import read_records
from fleetstats.spells.recurrent import build_histories
from fleetstats.study.study import read_study
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.findings import FINDINGS

HEAD = '[study]\ntitle = "made"\nanalysis_date = 2025-12-31\n'
FILE = '[[records]]\nfile = "{}"\nsource = "{}"\n'
LOG_FILE = '[[records]]\nfile = "log.csv"\nshape = "log"\n'


def audit_of(folder: Path, toml: str) -> tuple[Finding, ...]:
    """Return what the audit of a written study finds."""
    (folder / "study.toml").write_text(HEAD + toml, encoding="utf-8")
    study = read_study(folder)
    return audit_records(study, read_records(study)).findings


def of_lives(code: str, folder: Path) -> tuple[Finding, ...]:
    rows, more = LIVES[code]
    (folder / "lives.csv").write_text(rows, encoding="utf-8")
    (folder / "built.txt").write_text("serial\nA\nA\nB\n", encoding="utf-8")
    return audit_of(folder, more + FILE.format("lives.csv", "club"))


def of_logs(code: str, folder: Path) -> tuple[Finding, ...]:
    rows, more = LOGS[code]
    (folder / "log.csv").write_text(rows, encoding="utf-8")
    return audit_of(folder, more + LOG_FILE)


def of_histories_in_columns(code: str, folder: Path) -> tuple[Finding, ...]:
    rows, more = HISTORIES[code]
    (folder / "log.csv").write_text(rows, encoding="utf-8")
    return audit_of(folder, LOG_FILE.replace('"log"', '"histories"') + more)


def of_condition(code: str, folder: Path) -> tuple[Finding, ...]:
    shape, rows = CONDITION[code]
    (folder / "rows.csv").write_text(rows, encoding="utf-8")
    (folder / "lives.csv").write_text("engine,exit_hours,ending\nA,500,running\n", "utf-8")
    rest = f'{FILE.format("rows.csv", "club")}shape = "{shape}"\n'
    (folder / "study.toml").write_text(HEAD + FILE.format("lives.csv", "club") + rest, "utf-8")
    study = read_study(folder)
    lives = read_records(study).rows
    if code == "meter-without-factor":  # a study file that says so is refused when it is read
        files = tuple(replace(f, meter="hobbs") for f in study.files)
        study = replace(study, files=files)
    return read_condition(study, lives).findings


def of_merges(code: str, folder: Path) -> tuple[Finding, ...]:
    for name, rows in zip(("shop.csv", "club.csv"), TWO, strict=True):
        (folder / name).write_text(rows, encoding="utf-8")
    both = FILE.format("shop.csv", "shop") + FILE.format("club.csv", "club")
    return audit_of(folder, MERGES[code] + both)


def of_books(code: str, folder: Path) -> tuple[Finding, ...]:
    WRITERS[code](folder / "lives.xlsx")
    return audit_of(folder, FILE.format("lives.xlsx", "club"))


def of_bytes(code: str, folder: Path) -> tuple[Finding, ...]:
    (folder / "lives.csv").write_bytes(BYTES[code])
    return audit_of(folder, FILE.format("lives.csv", "club"))


def of_mends(code: str, folder: Path) -> tuple[Finding, ...]:
    """A row set aside by decision, and a decision on another version of the file."""
    (folder / "lives.csv").write_text(
        "engine,exit_hours,ending\nA,500,running\nB,9,lost\n", "utf-8"
    )
    own = hashlib.sha256((folder / "lives.csv").read_bytes()).hexdigest()
    digest = "0" * 64 if code == "mend-refused" else own
    (folder / "mends.csv").write_text(
        "file,digest,sheet,row,column,act,old,new,why,by,when\n"
        f"lives.csv,{digest},,3,,set-aside,,,not ours,records keeper,2026-01-05\n", "utf-8",
    )  # fmt: skip
    return audit_of(folder, FILE.format("lives.csv", "club"))


def of_histories(code: str, folder: Path) -> tuple[Finding, ...]:
    """Two logs of one engine, or an event between two watches."""
    head = "engine,date,hours,kind\n"
    own = "A,2020-01-01,0,installed\nA,2021-01-01,400,lost\n"
    outside = "A,2022-01-01,500,unscheduled\n" if code == "log-event-outside" else ""
    again = "A,2023-06-01,700,reading\nA,2024-01-01,750,reading\n"
    (folder / "log.csv").write_text(head + own + outside + again, encoding="utf-8")
    (folder / "two.csv").write_text(head + "A,2020-01-01,0,installed\nA,2021-01-01,90,reading\n")
    more = LOG_FILE.replace("log.csv", "two.csv") if code == "log-engine-twice" else ""
    (folder / "study.toml").write_text(HEAD + LOG_FILE + more, encoding="utf-8")
    study = read_study(folder)
    return build_histories(read_records(study), study.settings).findings


MAKERS: dict[str, Callable[[str, Path], tuple[Finding, ...]]] = {
    **dict.fromkeys(LIVES, of_lives),
    **dict.fromkeys(LOGS, of_logs),
    **dict.fromkeys(HISTORIES, of_histories_in_columns),
    **dict.fromkeys(CONDITION, of_condition),
    **dict.fromkeys(MERGES, of_merges),
    **dict.fromkeys(WRITERS, of_books),
    **dict.fromkeys(BYTES, of_bytes),
    **dict.fromkeys(("mend-refused", "mended-aside"), of_mends),
    **dict.fromkeys(("log-engine-twice", "log-event-outside"), of_histories),
}


def test_every_code_has_a_maker() -> None:
    assert set(MAKERS) == set(FINDINGS)


@pytest.mark.parametrize("code", FINDINGS)
def test_the_finding_is_raised_in_the_words_of_the_catalogue(code: str, tmp_path: Path) -> None:
    found = [f for f in MAKERS[code](code, tmp_path) if f.code == code]
    assert found
    for f in found:
        entry: Any = FINDINGS[code]
        assert f.severity == entry.severity
        assert f.message
        assert "{" not in f.message + f.advice
        assert f.message == f.message.strip()


@pytest.mark.parametrize(
    ("cell", "said"),
    [("", "The ending is empty."), ("not known", "The ending says nothing: 'not known'.")],
)
def test_an_ending_that_says_nothing_is_told_from_an_empty_one(
    cell: str, said: str, tmp_path: Path
) -> None:
    (tmp_path / "lives.csv").write_text(f"engine,exit_hours,ending\nA,5,{cell}\n", "utf-8")
    found = audit_of(tmp_path, FILE.format("lives.csv", "club"))
    (f,) = [f for f in found if f.code == "ending-missing"]
    assert f.message == said
    assert "lost if nobody knows" in f.advice


@pytest.mark.parametrize(
    ("unit", "hours", "told"),
    [
        ("h", "100000", False),
        ("h", "100001", True),
        ("min", "6000000", False),
        ("min", "6000060", True),
    ],
)
def test_a_log_is_held_to_the_hours_that_a_life_is_held_to(
    unit: str, hours: str, told: bool, tmp_path: Path
) -> None:
    """Both readers say the same of the same cell, in hours whatever the study counts in."""
    sentence = "100001 h cannot be the hours of an engine."
    more = f'[hours]\nunit = "{unit}"\n'
    (tmp_path / "lives.csv").write_text(f"engine,exit_hours,ending\nA,{hours},running\n", "utf-8")
    (tmp_path / "log.csv").write_text(
        f"engine,kind,hours\nA,installed,0\nA,reading,{hours}\n", "utf-8"
    )
    of_life = audit_of(tmp_path, more + FILE.format("lives.csv", "club"))
    of_log = audit_of(tmp_path, more + LOG_FILE)
    assert [f.message for f in of_life if f.code == "hours-impossible"] == [sentence] * told
    said = [f.message for f in of_log if f.code == "log-hours-impossible"]
    assert said == [f"{sentence} Hours lie between 0 and 100,000."] * told


def test_a_heap_is_told_past_each_of_its_limits_and_not_before() -> None:
    """30 readings; three times as often as chance; and a chance below 1 in 10,000."""

    def told(n: int, hits: int) -> bool:
        return bool(tell_heap("", n, {100.0: hits, 50.0: 0, 10.0: 0}))

    assert told(30, 30)
    assert not told(29, 29)
    # 4,000 readings: 120 are three times the 40 that chance would have, and rare beyond doubt
    assert told(4000, 121)
    assert not told(4000, 120)
    # of 47 readings at least 5: 1.08e-4 by the exact binomial tail; of 46, 9.7e-5
    assert binom.sf(4, 47, 0.01) > 1e-4 > binom.sf(4, 46, 0.01)
    assert told(46, 5)
    assert not told(47, 5)


@pytest.mark.parametrize(("hours", "told"), [("501", False), ("501.1", True)])
def test_an_hour_past_the_end_of_a_life_is_the_same_event(
    hours: str, told: bool, tmp_path: Path
) -> None:
    (tmp_path / "rows.csv").write_text(f"engine,hours,result\nA,{hours},clean\n", "utf-8")
    (tmp_path / "lives.csv").write_text("engine,exit_hours,ending\nA,500,running\n", "utf-8")
    rest = FILE.format("rows.csv", "club") + 'shape = "checks"\n'
    (tmp_path / "study.toml").write_text(HEAD + FILE.format("lives.csv", "club") + rest, "utf-8")
    study = read_study(tmp_path)
    found = read_condition(study, read_records(study).rows).findings
    assert ("condition-hours-late" in [f.code for f in found]) == told
