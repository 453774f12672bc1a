"""A fleet of nine rows from two clubs, every step from file to spell worked out by hand.

Analysis date 2025-12-31, level beyond-limits, standard clock flight hours, tach × 1.1.

north.csv (flight hours, semicolons, decimal commas)
  line 2  N-1  0 to 812,5     running                          censored at 812.5
  line 3  N-2  600 to 1180    found at check, last good 1130   failed in (1130, 1180]
  line 4  N-3  0 to 900       failed, confirmed no             censored, no fault found
  line 5  N-4  0 to 1200      planned overhaul, found          failed in (0, 1200]
  line 6  (blank line)
  line 7  N-5  0 to ?         running                          set aside: hours missing
south.csv (tach hours)
  line 2  S-1  100 to 1000    failed, piston                   110 to 1100, failed exactly
  line 3  S-2  0 to 500       failed, ignition                 0 to 550, competing
  line 4  S-3  0 to 700       removed because of a finding     0 to 770, finding
  line 5  S-4  0 to 400       failed, recalled lot             excluded by the study's rule

Exposure of the seven lives used, interval-known failures to the middle of their interval:
812.5 + (1155 - 600) + 900 + 600 + (1100 - 110) + 550 + 770 = 5177.5 h.
Engines built 12: nine are named in the rows, so 3 have an unknown fate.
"""

from __future__ import annotations

import pytest

from fleetstats.records.audit.audit import audit_records
from fleetstats.records.readers import read_records
from fleetstats.spells.build import build_spells
from fleetstats.spells.event import Event

SETTINGS = """
[hours.factors]
tach = { factor = 1.1, low = 1.0, high = 1.2 }
[question]
level = "beyond-limits"
[[question.rules]]
cause = "recalled lot"
counts_as = "excluded"
reason = "recalled before the period"
[fleet]
built = 12
[treat]
hours-missing = "set-aside"
"""
RECORDS = """
[[records]]
file = "lives.csv"
source = "north"
[records.columns]
engine = "Werk-Nr."
exit_hours = "Stunden"
[[records]]
file = "south.csv"
source = "south"
meter = "tach"
"""
NORTH = """\
Werk-Nr.;entry hours;Stunden;last known good;ending;cause;confirmed;found at teardown;build
N-1;;812,5;;running;;;;B1
N-2;600;1180;1130;found at check;piston;yes;;B1
N-3;;900;;failed;;no;;B2
N-4;;1200;;planned overhaul;;;yes;B2

N-5;;?;;running;;;;
"""
SOUTH = """\
serial,entry,hours,status,cause,build
S-1,100,1000,failed,piston,B1
S-2,0,500,failed,ignition,B1
S-3,0,700,removed because of a finding,,B2
S-4,0,400,failed,recalled lot,B2
"""


@pytest.fixture
def built(make_study):
    study = make_study(NORTH, SETTINGS, records=RECORDS, more={"south.csv": SOUTH})
    records = read_records(study)
    audit = audit_records(study, records)
    return audit, build_spells(study, records, audit)


def test_each_row_has_its_fate(built):
    audit, _ = built
    assert audit.ok
    assert [(a.file, a.n_read, a.n_used, a.n_set_aside, a.n_blank) for a in audit.accounts] == [
        ("lives.csv", 5, 4, 1, 1),
        ("south.csv", 4, 4, 0, 0),
    ]
    assert [(s.file, s.row, s.reason) for s in audit.set_aside] == [
        ("lives.csv", 7, "hours-missing")
    ]


def test_each_life_becomes_its_spell(built):
    s = built[1].spells
    assert s.unit.tolist() == ["N-1", "N-2", "N-3", "N-4", "S-1", "S-2", "S-3"]
    assert s.entry == pytest.approx([0, 600, 0, 0, 110, 0, 0])
    assert s.exit_lower == pytest.approx([812.5, 1130, 900, 0, 1100, 550, 770])
    assert s.exit_upper == pytest.approx([812.5, 1180, 900, 1200, 1100, 550, 770])
    assert [Event(e).name for e in s.event] == [
        "CENSORED", "FAILED", "CENSORED", "FAILED", "FAILED", "COMPETING", "FINDING",
    ]  # fmt: skip
    assert s.source.tolist() == ["north"] * 4 + ["south"] * 3
    assert s.build.tolist() == ["B1", "B1", "B2", "B2", "B1", "B1", "B2"]
    assert s.n_failed == 3
    assert s.exposure_h == pytest.approx(5177.5)


def test_the_endings_are_counted_with_what_they_count_as(built):
    told = {(e.ending, e.cause): (e.counts_as, e.n) for e in built[1].endings}
    assert told == {
        ("running", ""): ("censored", 1),
        ("found-at-check", "piston"): ("failure", 1),
        ("failed", ""): ("censored", 1),
        ("planned-overhaul", ""): ("failure", 1),
        ("failed", "piston"): ("failure", 1),
        ("failed", "ignition"): ("competing", 1),
        ("removed-finding", ""): ("finding", 1),
        ("failed", "recalled lot"): ("excluded", 1),
    }


def test_the_funnel_adds_up_by_hand(built):
    f = built[1].funnel
    assert f.holds
    north, south = f.sources
    assert (north.rows_read, north.rows_set_aside, north.lives, north.lives_used) == (5, 1, 4, 4)
    assert (south.rows_read, south.rows_set_aside, south.lives, south.lives_used) == (4, 0, 4, 3)
    assert north.row_losses == {"hours-missing": 1}
    assert south.life_losses == {"recalled before the period": 1}
    assert (f.total.rows_read, f.total.lives, f.total.lives_used) == (9, 8, 7)
    assert (f.total.engines, f.total.engines_used) == (9, 7)
    assert (north.engines, north.engines_used, south.engines) == (5, 4, 4)
    assert f.n_built == 12
    assert f.n_fate_unknown == built[1].n_fate_unknown == 3
    assert f.coverage == pytest.approx(7 / 12)


def test_the_table_of_spells_names_each_origin(built):
    frame = built[1].to_frame()
    assert frame["origin"].tolist()[:2] == ["lives.csv row 2", "lives.csv row 3"]
    assert frame["reason"].tolist()[2] == "no fault found by the shop"
