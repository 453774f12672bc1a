"""A log that goes over several files is one log; a list sent anew is another report."""

from __future__ import annotations

from pathlib import Path

import pytest

from fleetstats.records.audit.audit import audit_records
from fleetstats.records.readers import read_records
from fleetstats.spells.build import build_spells
from fleetstats.spells.recurrent import build_histories
from fleetstats.study.study import read_study

HEAD = "engine,date,hours,kind,cause,confirmed"
OLD = """
K6-0274,2019-01-01,0,installed,,
K6-0274,2020-01-01,200,reading,,
E-2,2019-01-01,0,installed,,
"""
NEW = """
K6 0274,2021-01-01,450,reading,,
K6 0274,2021-06-01,500,failed,gears,yes
E-2,2022-01-01,300,unscheduled,,
E-2,2023-01-01,400,reading,,
"""


def folder(at: Path, *logs: str, sources: tuple[str, ...] = (), more: str = "") -> Path:
    text = f'[study]\ntitle = "T"\nanalysis_date = 2024-01-01\n{more}\n'
    for i, log in enumerate(logs):
        (at / f"{i}.csv").write_text(HEAD + log, encoding="utf-8")
        source = sources[i] if sources else "shop"
        text += f'[[records]]\nfile = "{i}.csv"\nshape = "log"\nsource = "{source}"\n'
    (at / "study.toml").write_text(text, encoding="utf-8")
    return at


def lives_of(at: Path):
    study = read_study(at)
    records = read_records(study)
    return study, records, audit_records(study, records)


def told(records):
    return sorted((r.engine_id, r.entry_h, r.exit_h, r.ending) for r in records.rows)


WHOLE = [("E2", 0, 400, "running"), ("K6-274", 0, 500, "failed")]


def test_hours_between_two_files_of_one_log_are_counted(tmp_path):
    study, records, audit = lives_of(folder(tmp_path, OLD, NEW))
    assert told(records) == WHOLE
    assert audit.ok, str(audit)
    assert [(a.n_read, a.n_used, a.n_set_aside) for a in audit.accounts] == [(3, 3, 0), (4, 4, 0)]
    built = build_spells(study, records, audit)
    assert built.funnel.holds
    assert built.spells.exposure_h == 900
    histories = build_histories(records, study.settings)
    assert histories.histories is not None
    assert histories.histories.exposure_h == 900
    assert histories.findings == ()


def test_a_reading_carried_over_into_the_new_file_is_no_second_report(tmp_path):
    _, records, audit = lives_of(folder(tmp_path, OLD, "\nK6 0274,2020-01-01,200,reading,," + NEW))
    assert told(records) == WHOLE
    assert audit.ok, str(audit)


def test_a_list_sent_anew_is_merged_as_a_return(tmp_path):
    """The second file holds all that the first holds, and more."""
    _, records, audit = lives_of(folder(tmp_path, OLD + NEW.strip() + "\n", OLD + NEW))
    assert told(records) == WHOLE
    assert audit.ok, str(audit)
    assert records.merged is not None
    assert len(records.merged.trace) == 2


@pytest.mark.parametrize("sources", [("", ""), ("shop", "club"), ("shop", "")])
def test_logs_of_two_senders_are_two(tmp_path, sources):
    """Who runs on after the other's last reading may have stood still meanwhile: not counted."""
    _, records, _ = lives_of(folder(tmp_path, OLD, NEW, sources=sources))
    assert sum(r.exit_h - r.entry_h for r in records.rows) == 200 + 50 + 100


def test_one_sender_may_be_spelt_in_two_ways(tmp_path):
    _, records, _ = lives_of(folder(tmp_path, OLD, NEW, sources=("North Shop", "north-shop")))
    assert told(records) == WHOLE


def test_a_life_set_aside_takes_its_lines_in_both_files_with_it(tmp_path):
    more = '[hours]\nmeter = "flight"\n[treat]\nclock-without-factor = "set-aside"'
    logs = ["\n".join(f"{line},hobbs" for line in log.strip().splitlines()) for log in (OLD, NEW)]
    at = folder(tmp_path, *(f"\n{log}\n" for log in logs), more=more)
    for i in (0, 1):
        text = (at / f"{i}.csv").read_text("utf-8").replace("confirmed", "confirmed,meter", 1)
        (at / f"{i}.csv").write_text(text, encoding="utf-8")
    _, records, audit = lives_of(at)
    assert records.rows == ()
    assert [(a.n_read, a.n_used, a.n_set_aside) for a in audit.accounts] == [(3, 0, 3), (4, 0, 4)]
    assert audit.reasons == {"clock-without-factor": 7}


def test_two_lives_of_one_log_in_two_files_are_not_merged_with_each_other(tmp_path):
    """Lost sight of at 200 h in the old file, and seen again from 200.5 h in the new one."""
    old = "\nA,2019-01-01,0,installed,,\nA,2020-01-01,200,lost,,\n"
    new = "\nA,2022-01-01,200.5,reading,,\nA,2023-01-01,400,reading,,\n"
    _, records, audit = lives_of(folder(tmp_path, old, new))
    whole = tmp_path / "whole"
    whole.mkdir()
    _, one, _ = lives_of(folder(whole, old + new.strip() + "\n"))
    assert told(records) == told(one)
    assert len(records.rows) == 2
    assert audit.ok, str(audit)


def test_each_file_of_a_log_may_be_written_newest_first(tmp_path):
    """Two flights of one day: 500 h, then 510 h, told from the bottom up."""
    old = "\nA,2020-01-01,200,reading,,\nA,2019-01-01,0,installed,,\n"
    new = (
        "\nA,2022-01-01,600,reading,,\nA,2021-06-01,510,reading,,\nA,2021-06-01,500,check,,\n"
        "A,2021-01-01,400,reading,,\n"
    )
    _, records, audit = lives_of(folder(tmp_path, old, new))
    assert told(records) == [("A", 0, 600, "running")]
    assert audit.ok, str(audit)
