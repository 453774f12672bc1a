"""A sheet with one row an engine and its history in columns is known, and its repairs are asked.

Rules of our own, no outside source; the sheets are invented.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from fleetstats.records.audit.audit import audit_records
from fleetstats.records.audit.lines_to_add import lines_to_add
from fleetstats.records.guess.study import guess_study
from fleetstats.records.guess.write import begin_from_files
from fleetstats.records.readers import read_records
from fleetstats.spells.build import build_spells
from fleetstats.study.study import read_study

TODAY = dt.date(2026, 12, 31)
SHEET = """Engine register as of 30 Sep 2026
Serial no,In service since,Failed at,Cause,Back in service at,New crank at,Failed at,TT,Last reading
A-1,2015-01-02,800,crankshaft,,800,,1500,2026-08-01
A-2,2015-03-02,,,,,,900,2026-08-03
A-3,2015-04-02,400,piston,400,,,1200,2026-08-02
A-4,2016-04-02,500,piston,500,,1100,1100,2026-07-02
A-5,2016-05-02,,,,,,700.2,2026-08-12
"""


def lay(folder: Path, text: str = SHEET) -> Path:
    path = folder / "register.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_history_is_known_and_each_repair_is_asked(tmp_path: Path) -> None:
    new = tmp_path / "new"
    guessed = begin_from_files(new, [lay(tmp_path)], today=TODAY)
    (sheet,) = guessed.sheets
    assert (sheet.shape.value, sheet.shape.sure) == ("histories", "likely")
    assert {g.what for _, g in guessed.open_guesses} == {"new crank", "back in service"}
    study = read_study(new)
    audit = audit_records(study, read_records(study))
    assert not audit.ok
    # what begin asks and what check asks are one question
    lines = "\n".join(lines_to_add(audit.findings))
    assert all(f'"{g.what}" = ' in lines for g in sheet.renews)


def test_answered_it_holds_the_failures_and_the_hours(tmp_path: Path) -> None:
    new = tmp_path / "new"
    begin_from_files(new, [lay(tmp_path)], today=TODAY)
    path = new / "study.toml"
    text = path.read_text(encoding="utf-8")
    for word, renewed in (("new crank", "all"), ("back in service", "nothing")):
        assert f'# "{word}" = "…"' in text
        text = text.replace(f'# "{word}" = "…"', f'"{word}" = "{renewed}"')
    path.write_text(text, encoding="utf-8")
    study = read_study(new)
    records = read_records(study)
    audit = audit_records(study, records)
    assert audit.ok, audit
    spells = build_spells(study, records, audit).spells
    assert (spells.n_engines, spells.n_failed) == (5, 4)
    assert spells.exposure_h == pytest.approx(1500 + 900 + 1200 + 1100 + 700.2, abs=0.01)


@pytest.mark.parametrize(
    "head",
    [
        "Serial no,Hours,Status,Removed on,Cause,Last reading",
        "Serial no,Total time,Status,Failed on,Reason,Last reading",
        "Serial no,Hours at failure,Status,Failure date,Overhauled on,Last reading",
    ],
)
def test_a_table_of_lives_is_none_though_it_tells_of_a_failure(tmp_path: Path, head: str) -> None:
    rows = [f"A-{i},{400.5 + i},running,,,2026-06-0{i}" for i in range(1, 7)]
    path = lay(tmp_path, "\n".join([head, *rows]) + "\n")
    (sheet,) = guess_study([path], today=TODAY).sheets
    assert sheet.shape.value == "lives"
