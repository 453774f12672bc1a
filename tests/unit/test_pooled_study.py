"""From files to spells: logs, returns, clocks, parts and modifications, as a study reads them."""

import pytest

from fleetstats.core.errors import SettingError
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.readers import read_records
from fleetstats.spells.build import build_spells
from fleetstats.study.study import read_study

HEAD = """
[study]
title = "Made up"
analysis_date = 2026-01-01
"""


def study(folder, toml, **files):
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text.strip() + "\n", encoding="utf-8")
    (folder / "study.toml").write_text(HEAD + toml, encoding="utf-8")
    s = read_study(folder)
    records = read_records(s)
    audit = audit_records(s, records)
    assert audit.n_read == audit.n_used + audit.n_set_aside
    return s, records, audit


LOG = """
Motor;Tag;Stand;Ereignis;Grund;Bestätigt
M 1;01.02.2019;0,0;eingebaut;;
M 1;01.02.2021;310,5;Kontrolle ohne Befund;;
M 1;01.03.2021;340,5;Befund;Ventil;ja
M 1;01.03.2021;340,5;ausgebaut;Ventil;ja
M 2;01.02.2019;0;eingebaut;;
M 2;01.02.2024;812,25;Stand;;
"""
LOG_TOML = """
[[records]]
file = "log.csv"
shape = "log"
[records.columns]
engine = "Motor"
date = "Tag"
hours = "Stand"
kind = "Ereignis"
cause = "Grund"
confirmed = "Bestätigt"
[records.kinds]
"eingebaut" = "installed"
"Kontrolle ohne Befund" = "check"
"Befund" = "finding"
"ausgebaut" = "removed"
"Stand" = "reading"
[records.causes]
"Ventil" = "valve"
"""


def test_a_log_in_another_language_with_decimal_commas(tmp_path):
    s, records, audit = study(tmp_path, LOG_TOML, log=LOG)
    assert audit.ok, str(audit)
    assert [(r.engine, r.exit_h, r.ending, r.cause) for r in audit.used] == [
        ("M 1", 340.5, "found-at-check", "valve"), ("M 2", 812.25, "running", ""),
    ]  # fmt: skip
    built = build_spells(s, records, audit)
    assert built.spells.failed.tolist() == [True, False]
    assert built.spells.exit_lower.tolist() == [310.5, 812.25]


def test_log_rows_that_cannot_be_read_are_named(tmp_path):
    log = """
engine,date,hours,kind,meter,confirmed,cost
E-1,2019-01-01,0,installed,,,
E-1,2020-01-01,lots,reading,,,
E-1,2020-02-01,100,fell off,,,
,2020-03-01,100,reading,,,
E-1,2020-04-01,-5,reading,,,
E-1,2020-05-01,120,reading,sundial,,
E-1,2020-13-01,130,reading,,perhaps,free
EXAMPLE,2020-06-01,500,reading,,,
E-1,2021-01-01,300,reading,,,
"""
    _, _, audit = study(tmp_path, '[[records]]\nfile = "log.csv"\nshape = "log"\n', log=log)
    told = {(f.row, f.code) for f in audit.findings}
    assert told >= {
        (3, "log-hours-unreadable"), (4, "log-kind-unknown"), (5, "log-engine-missing"),
        (6, "log-hours-impossible"), (7, "log-meter-unknown"), (8, "log-cell-left-out"),
        (9, "log-example-row"),
    }  # fmt: skip
    assert {f.row for f in audit.stops} == {3, 4, 5, 6, 7}
    unknown = next(f for f in audit.findings if f.code == "log-kind-unknown")
    assert (unknown.column, unknown.value, unknown.file) == ("kind", "fell off", "log.csv")
    assert sum(f.code == "log-cell-left-out" for f in audit.findings) == 3
    assert [(r.entry_h, r.exit_h) for r in audit.used] == [(0, 300)]


def test_hours_that_may_be_read_two_ways_stop_a_log(tmp_path):
    log = "engine;date;hours;kind\nE;2019-01-01;1.234;reading\nE;2020-01-01;1.500;reading\n"
    _, _, audit = study(tmp_path, '[[records]]\nfile = "log.csv"\nshape = "log"\n', log=log)
    assert "decimal-ambiguous" in [f.code for f in audit.stops]


def test_a_log_without_its_columns_says_which(tmp_path):
    _, _, audit = study(
        tmp_path, '[[records]]\nfile = "log.csv"\nshape = "log"\n', log="engine,when\nE,2020\n"
    )
    assert [f.code for f in audit.stops] == ["column-missing"]
    assert audit.n_set_aside == 1


PARTS = """
engine,date,hours,kind,component,serial,confirmed,cause,cost
A,2019-01-01,0,installed,,,,,
A,2019-01-01,0,part-fitted,turbocharger,T1,,,
A,2021-01-01,400,part-removed,turbocharger,T1,yes,bearing,800
A,2021-01-01,400,part-fitted,turbocharger,T2,,,
A,2023-01-01,900,reading,,,,,
B,2019-01-01,0,installed,,,,,
B,2022-01-01,600,reading,,,,,
"""


def test_a_component_study_asks_of_parts(tmp_path):
    toml = '[hours]\ncomponent = "turbocharger"\n[[records]]\nfile = "log.csv"\nshape = "log"\n'
    s, records, audit = study(tmp_path, toml, log=PARTS)
    assert audit.ok, str(audit)
    built = build_spells(s, records, audit)
    got = sorted(
        (u, float(e), int(v))
        for u, e, v in zip(
            built.spells.unit, built.spells.exit_upper, built.spells.event, strict=True
        )
    )
    assert got == [("B turbocharger", 600, 0), ("T1", 400, 1), ("T2", 500, 0)]


RETURN_A = """
engine,exit hours,ending,cause,ended,last reading,build
L-0101,500,failed,gears,2024-01-01,,I
L-0102,700,running,,,2024-01-01,I
"""
RETURN_B = """
serial,hours now,status,reading date,date of failure
L101,700,running,2025-01-01,
L 102,900,running,2025-06-01,
"""
RETURNS = """
[[records]]
file = "a.csv"
source = "club A"
[[records]]
file = "b.csv"
source = "club B"
"""


def test_two_returns_with_columns_of_their_own_are_merged(tmp_path):
    _, records, audit = study(tmp_path, RETURNS, a=RETURN_A, b=RETURN_B)
    assert [f.code for f in audit.stops] == ["merge-conflict"]
    assert records.merged.conflicts[0].points[0].proposed.startswith("failed at 500 h")
    assert [s.reason for s in audit.set_aside] == ["merged"]
    two = next(r for r in audit.used if r.exit_h == 900)
    assert (two.engine, two.build) == ("L 102", "I")


def test_the_study_file_decides_a_conflict(tmp_path):
    decision = """
[[merge.decisions]]
engine = "L-101"
take = "a.csv row 2"
reason = "the owner confirmed the failure"
"""
    s, records, audit = study(tmp_path, RETURNS + decision, a=RETURN_A, b=RETURN_B)
    assert audit.ok, str(audit)
    assert sorted(x.reason for x in audit.set_aside) == ["merge-decided", "merged"]
    built = build_spells(s, records, audit)
    assert sorted(built.spells.exit_upper.tolist()) == [500, 900]
    assert built.funnel.holds


def test_a_decision_that_cannot_be_one_is_refused_with_its_path(tmp_path):
    with pytest.raises(SettingError, match=r"merge\.decisions\[1\]\.reason"):
        study(tmp_path, RETURNS + '[[merge.decisions]]\nengine = "L"\ntake = "proposed"\n',
              a=RETURN_A, b=RETURN_B)  # fmt: skip


def test_merging_can_be_left_to_the_audit(tmp_path):
    _, records, audit = study(tmp_path, RETURNS + "[merge]\nreturns = false\n",
                              a=RETURN_A, b=RETURN_B)  # fmt: skip
    assert records.merged is None
    assert "duplicate-life" in [f.code for f in audit.findings]


def test_a_row_may_say_where_its_engine_was_modified(tmp_path):
    lives = """
engine,build,exit hours,ending,modified at hours,modified to
A,I,1000,running,800,II
B,I,500,running,700,II
C,I,500,running,300,
"""
    s, records, audit = study(tmp_path, '[[records]]\nfile = "lives.csv"\n', lives=lives)
    built = build_spells(s, records, audit)
    assert built.spells.build.tolist() == ["I", "II", "I", "I"]
    assert built.spells.exposure_h == 2000
    codes = {f.row: f.code for f in audit.findings if f.code.startswith("modification")}
    assert codes == {3: "modification-outside", 4: "modification-unclear"}
    assert built.funnel.holds


def test_two_meters_in_one_log_use_the_engines_own_factor(tmp_path):
    """Hobbs 0 to 600 beside flight 0 to 510, then Hobbs alone to 1,000: 510 + 400 x 0.85 = 850."""
    rows = ["engine,date,hours,kind,meter", "A,2019-01-01,0,installed,flight"]
    for k in range(4):
        rows.append(f"A,202{k}-01-01,{200 * k},reading,hobbs")
        rows.append(f"A,202{k}-01-01,{170 * k},reading,flight")
    rows.append("A,2025-01-01,1000,reading,hobbs")
    toml = (
        '[hours.factors]\nhobbs = [0.9, 0.8, 0.95]\n[[records]]\nfile = "log.csv"\nshape = "log"\n'
    )
    _, records, audit = study(tmp_path, toml, log="\n".join(rows))
    assert audit.ok, str(audit)
    assert audit.used[0].exit_h == pytest.approx(850)
    assert [(f.engine, round(f.factor, 3)) for f in records.factors] == [("A", 0.85)]
    assert audit.n_used == 10


def test_round_failures_become_intervals_where_the_study_says_so(tmp_path):
    rows = ["engine,exit hours,ending,cause"]
    rows += [f"E{i},{300 + 100 * (i % 12)},failed,gears" for i in range(24)]
    rows += ["F,1234,failed,gears"]
    for rounded, n in (("as-given", 0), ("interval", 24)):
        s, records, audit = study(
            tmp_path,
            f'[hours]\nrounded = "{rounded}"\n[[records]]\nfile = "lives.csv"\n',
            lives="\n".join(rows),
        )
        assert int(build_spells(s, records, audit).spells.interval_known.sum()) == n


def test_carrying_readings_is_said_in_the_records(tmp_path):
    lives = "engine,exit hours,ending,in service,last reading\nA,500,running,2019-01-01,2024-01-01"
    for carry, added in (("false", 0.0), ("true", 500 * 731 / 1826)):
        _, records, audit = study(
            tmp_path,
            f'[hours]\ncarry_to_analysis_date = {carry}\n[[records]]\nfile = "lives.csv"\n',
            lives=lives,
        )
        assert records.hours_carried == pytest.approx(added)
        assert audit.used[0].exit_h == pytest.approx(500 + added)
