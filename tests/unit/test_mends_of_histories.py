"""Mends of cells of histories: proposed, taken, applied, and told where they touch a failure.

The rows are invented, and what is wrong with them is their stated truth; rules are our own, no
outside source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from fleetstats.records.audit.audit import audit_records
from fleetstats.records.mending.propose import propose_mends
from fleetstats.records.mending.take import GIVE, SET_ASIDE, TAKE, Decision, take_mends
from fleetstats.records.readers import read_records
from fleetstats.study.study import Study, read_study

ROWS = """\
Serial,Hours now,Last reading,Status,Failed at,Cause,Back in service at,Work done,Failed at,Cause
A-1,approx 800,2025-05-01,running,,,,,,
A-2,1200,2025-05-02,running,650,crankshaft,660,new crank,1OOO,piston
A-3,900,2025-05-03,wobbly,,,,,,
A-4,9OO,2025-05-04,running,,,,,,
A-5,700,05.13.2025,running,,,,,,
A-6,710,2025-05-06,failed,710,crankshaft,,,,
"""
KEEPER = {"why": "seen in the log book", "by": "records keeper"}


@pytest.fixture
def study(tmp_path: Path) -> Study:
    (tmp_path / "h.csv").write_text(ROWS, encoding="utf-8")
    (tmp_path / "study.toml").write_text(
        '[study]\ntitle = "made"\nanalysis_date = 2025-12-31\n[[records]]\nfile = "h.csv"\n'
        'shape = "histories"\n[records.renews]\n"new crank" = "part"\n',
        encoding="utf-8",
    )
    return read_study(tmp_path)


def decide(row: int, act: str, column: str = "", new: str = "") -> Decision:
    return Decision(file="h.csv", row=row, column=column, act=act, new=new, **KEEPER)


def effects(study: Study) -> list[str]:
    return [m.effect for m in read_records(study).mended]


def test_odd_cells_of_a_history_are_proposed_with_their_columns(study: Study) -> None:
    found = {(p.row, p.column): p.proposed for p in propose_mends(study) if p.row}
    assert found[5, "Hours now"] == "900"
    assert found[6, "Last reading"] == "2025-05-13"
    assert found[4, "Status"] == ""
    # of two heads "Failed at" the reader numbers the second; a mend knows it by its place
    assert (3, "column 9") in found


def test_mends_of_a_history_are_read(study: Study) -> None:
    take_mends(study, [
        decide(2, GIVE, "Hours now", "812.5"), decide(3, GIVE, "column 9", "1000"),
        decide(4, GIVE, "Status", "running"), decide(5, TAKE, "Hours now", "900"),
        decide(6, TAKE, "Last reading", "2025-05-13"),
    ])  # fmt: skip
    records = read_records(study)
    audit = audit_records(study, records)
    assert {f.code for f in audit.findings if f.row in (2, 4, 5, 6)} <= {"mended"}
    by = {r.engine: r for r in records.rows}
    assert by["A-1"].exit_h == 812.5
    assert by["A-1"].exit_high_h is None
    assert by["A-3"].ending == "running"
    assert by["A-4"].exit_h == 900
    assert str(by["A-5"].last_reading) == "2025-05-13"


@pytest.mark.parametrize(
    ("row", "act", "column", "new", "effect"),
    [
        (7, GIVE, "Failed at", "701", "hours"),
        (7, SET_ASIDE, "", "", "removed"),
        (4, GIVE, "Status", "failed", "added"),
        (7, GIVE, "column 6", "sold", "cause"),
        (5, GIVE, "Hours now", "900", ""),
        (2, SET_ASIDE, "", "", ""),
    ],
)
def test_what_a_mend_does_to_a_failure_of_a_history_is_told(
    study: Study, row: int, act: str, column: str, new: str, effect: str
) -> None:
    take_mends(study, [decide(row, act, column, new)])
    assert effects(study) == [effect]
