"""The ledger of trouble: rows that hint at a failure = the sum of where they went, none is lost.

Rows are put together from parts whose meaning is stated beside them; the number that hint is
counted from these statements, not from the package. Invented, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from unittest.mock import patch

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleetstats.records.audit.audit import audit_records
from fleetstats.records.readers import read_records
from fleetstats.records.trouble.hinted import Hinted
from fleetstats.records.trouble.scan import Scanner
from fleetstats.spells.build import build_spells
from fleetstats.spells.bulk.bulk import build_bulk
from fleetstats.spells.trouble.place import ledger_of
from fleetstats.study.study import Study, read_study
from fleetstats.tables.table import RawRow

HEAD = """\
[study]
title = "T"
analysis_date = 2025-12-31
[question]
causes = ["piston", "crankshaft"]
{rules}
[treat]
failure-or-not = "{untold}"
hours-missing = "set-aside"
hours-unreadable = "set-aside"
failure-without-exposure = "set-aside"
duplicate-row = "set-aside"
duplicate-life = "set-aside"
log-hours-missing = "set-aside"
log-hours-unreadable = "set-aside"
[[records]]
file = "{file}"
shape = "{shape}"
{maps}
"""
RULE = '[[question.rules]]\nending = "failed"\ncounts_as = "excluded"\nreason = "test"\n'
MAP = '[records.endings]\nfailed = "planned-overhaul"\n'
ENDS = st.sampled_from(
    [("running", False), ("failed", True), ("found at check", True), ("removed", False),
     ("planned overhaul", False), ("removed on finding", True)]
)  # fmt: skip
CAUSES = st.sampled_from(
    [("", False), ("piston", True), ("prop strike", False), ("sold", False), ("rod broke", True),
     ("overhaul due", False)]
)  # fmt: skip
FLAGS = st.sampled_from([("", False), ("yes", True), ("no", False)])
NOTES = st.sampled_from(
    [("", False), ("no metal", False), ("seized at 300 h", True), ("crack found", True),
     ("not failed", False), ("back in service", True)]
)  # fmt: skip
UNREAD = st.sampled_from([("", False), ("blue", False), ("thrown rod", True), ("no cracks", False)])
FAILED_AT = st.sampled_from([("", False), ("", False), ("no", False), ("420", True)])
HOURS = st.sampled_from(["500", "900", "1200.5", "", "lots"])
ROW = st.tuples(ENDS, CAUSES, FLAGS, NOTES, UNREAD, FAILED_AT, HOURS, st.integers(1, 6))
FEW = settings(
    max_examples=40, deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)  # fmt: skip


def written(
    folder: Path, rows: list, *, untold: str, rule: bool, mapped: bool
) -> tuple[Study, int]:
    """Write a study of lives; return it and how many rows hint at a failure."""
    lines = [
        "engine,exit_hours,ending,cause,confirmed,note,workshop report,failed at",
        "G,700,running,,,,,",
    ]
    n = 0
    for end, cause, flag, note, unread, failed_at, hours, engine in rows:
        cells = (end[0], cause[0], flag[0], note[0], unread[0], failed_at[0])
        lines.append(f"E{engine},{hours},{','.join(cells)}")
        n += any(said for _, said in (end, cause, flag, note, unread, failed_at))
    (folder / "x.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    text = HEAD.format(untold=untold, rules=RULE if rule else "", file="x.csv", shape="lives",
                       maps=MAP if mapped else "")  # fmt: skip
    (folder / "study.toml").write_text(text, encoding="utf-8")
    return read_study(folder), n


@given(
    rows=st.lists(ROW, max_size=12), untold=st.sampled_from(["accept", "set-aside"]),
    rule=st.booleans(), mapped=st.booleans(),
)  # fmt: skip
@FEW
def test_rows_that_hint_are_the_sum_of_where_they_went(
    tmp_path: Path, rows: list, untold: str, rule: bool, mapped: bool
) -> None:
    study, n = written(tmp_path, rows, untold=untold, rule=rule, mapped=mapped)
    records = read_records(study)
    built = build_spells(study, records, audit_records(study, records))
    counts = built.trouble.counts
    assert sum(counts.values()) == built.trouble.n == len(built.trouble.rows) == n
    # in the ledger and among the spells: one failure each, told two ways
    assert counts["failure"] == int(built.spells.failed.sum())
    assert counts["failure"] + len(built.left_out) <= n


@given(
    rows=st.lists(ROW, max_size=12), untold=st.sampled_from(["accept", "set-aside"]),
    rule=st.booleans(), mapped=st.booleans(),
)  # fmt: skip
@FEW
def test_by_chunks_as_by_rows(
    tmp_path: Path, rows: list, untold: str, rule: bool, mapped: bool
) -> None:
    study, n = written(tmp_path, rows, untold=untold, rule=rule, mapped=mapped)
    records = read_records(study)
    built = build_spells(study, records, audit_records(study, records))
    bulk = build_bulk(study)
    assert bulk.trouble.n == n
    assert bulk.trouble.counts == built.trouble.counts
    assert sum(x.count for x in bulk.left_out) == sum(x.count for x in built.left_out)


@given(rows=st.lists(ROW, max_size=8), mapped=st.booleans())
@FEW
def test_each_row_hints_at_what_it_does_by_itself(tmp_path: Path, rows: list, mapped: bool) -> None:
    """What other rows say in the same words is kept; it tells the same as looking at each anew."""

    def alone(self: Scanner, rows: Sequence[RawRow]) -> tuple[Hinted, ...]:
        found = []
        for row in rows:
            self.quiet.clear()
            self.told.clear()
            found.append(self.hinted(row))
        return tuple(h for h in found if h is not None)

    # the same words before, of another engine, at other hours and beside a note
    noted = [(*r[:3], ("crack found", True), *r[4:6], "321", 7) for r in rows]
    study, n = written(tmp_path, [*noted, *rows], untold="accept", rule=False, mapped=mapped)
    at_once = read_records(study).trouble
    assert len(at_once) == n
    with patch.object(Scanner, "scan", alone):
        assert read_records(study).trouble == at_once


EVENTS = st.sampled_from(
    [("reading", False), ("failed", True), ("finding", True), ("removed", False),
     ("returned", False), ("overhauled", False), ("check", False), ("unscheduled", False),
     ("teardown", False)]
)  # fmt: skip


@given(
    rows=st.lists(st.tuples(EVENTS, CAUSES, FLAGS, NOTES, FAILED_AT, st.integers(1, 3)),
                  max_size=14)
)  # fmt: skip
@FEW
def test_events_of_logs_add_up_too(tmp_path: Path, rows: list) -> None:
    lines = ["engine,hours,kind,cause,confirmed,note,failed at", "G,0,installed,,,,",
             "G,700,reading,,,,"]  # fmt: skip
    n = 0
    for i, (kind, cause, flag, note, failed_at, engine) in enumerate(rows):
        cells = (kind[0], cause[0], flag[0], note[0], failed_at[0])
        lines.append(f"E{engine},{100 * (i + 1)},{','.join(cells)}")
        n += any(said for _, said in (kind, cause, flag, note, failed_at))
    (tmp_path / "x.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    text = HEAD.format(untold="accept", rules="", file="x.csv", shape="log", maps="")
    (tmp_path / "study.toml").write_text(text, encoding="utf-8")
    study = read_study(tmp_path)
    records = read_records(study)
    assert len(records.trouble) == n
    trouble, left_out = ledger_of(study, records, audit_records(study, records))
    assert trouble.n == sum(trouble.counts.values()) == n
    assert len(left_out) <= n


@pytest.mark.parametrize("untold", ["accept", "set-aside"])
def test_the_law_sees_each_place(tmp_path: Path, untold: str) -> None:
    """The strategies reach every place but those that need a rule or several returns."""
    blank = ("", False)

    def row(end: str, cause: str, hours: str, engine: int, flag: str = "") -> tuple:
        return ((end, True), (cause, True), (flag, True), blank, blank, blank, hours, engine)

    rows = [
        row("failed", "piston", "500", 1), row("failed", "rod broke", "500", 2),
        row("removed", "piston", "500", 3), row("failed", "prop strike", "500", 4),
        row("failed", "piston", "", 5), row("failed", "piston", "500", 1),
        row("running", "piston", "500", 6),
    ]  # fmt: skip
    study, n = written(tmp_path, rows, untold=untold, rule=False, mapped=False)
    records = read_records(study)
    counts = build_spells(study, records, audit_records(study, records)).trouble.counts
    want = {"failure": 1, "other": 1, "finding": 1, "censored": 1, "excluded": 0, "set-aside": 1,
            "merged": 1, "not-counted": 1, "over": 0}  # fmt: skip
    if untold == "set-aside":
        want |= {"finding": 0, "set-aside": 3, "not-counted": 0}
    assert counts == want
    assert n == len(rows)
