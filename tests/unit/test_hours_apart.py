"""Two returns that no flying brings together are a conflict, whichever tells more hours."""

from __future__ import annotations

import pytest

FILES = '\n[[records]]\nfile = "lives.csv"\nsource = "shop"\n\n[[records]]\nfile = "club.csv"\n'
FILES += 'source = "club"\n'
HEAD = "engine,exit_hours,ending,last_reading_date,ended_date\n"


def conflicts(audited, first, second, settings=""):
    """Return the audit of two returns on one engine, and its conflicts."""
    _, records, audit = audited(
        HEAD + f"E-1,{first}\n", settings, records=FILES,
        more={"club.csv": HEAD + f"E-1,{second}\n"},
    )  # fmt: skip
    return records, audit, [f for f in audit.findings if f.code == "merge-conflict"]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        # one day, a digit too many; either may come first
        ("1281,running,2025-06-01,", "12791,running,2025-06-01,"),
        ("12791,running,2025-06-01,", "1281,running,2025-06-01,"),
        # ten days have 240 h
        ("500,running,2025-06-01,", "800,running,2025-06-11,"),
        # an end, and a reading of the same day
        ("1281,failed,,2025-06-01", "128,running,2025-06-01,"),
        ("1281,failed,,2025-06-01", "1100,running,2025-06-03,"),
    ],
)
def test_too_many_hours_between_two_days_stop_the_study(audited, first, second):
    records, audit, found = conflicts(audited, first, second)
    assert len(found) == 1
    assert [f.code for f in audit.stops] == ["merge-conflict"]
    assert "hours: " in found[0].message
    # the proposal of two readings is the fewer hours, the failure stands
    _, audit, _ = conflicts(audited, first, second, '[treat]\nmerge-conflict = "accept"\n')
    (life,) = audit.used
    told = [float(x.split(",")[0]) for x in (first, second)]
    assert life.exit_h == (1281.0 if "failed" in first else min(told))
    assert len(records.merged.conflicts) == 1


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("500,running,2025-06-01,", "525,running,2025-06-01,"),
        ("500,running,2025-06-01,", "550,running,2025-06-01,"),
        ("5000,running,2025-06-01,", "5250,running,2025-06-01,"),
        ("500,running,2025-06-01,", "740,running,2025-06-11,"),
        ("500,running,,", "5000,running,2025-06-11,"),
        ("1281,failed,,2025-06-01", "1240,running,2025-06-01,"),
        ("1281,failed,,2025-06-01", "128,running,2015-06-01,"),
    ],
)
def test_what_rounding_and_flying_explain_is_merged(audited, first, second):
    _, audit, found = conflicts(audited, first, second)
    assert found == []
    assert audit.ok
    assert len(audit.used) == 1
