"""One engine's history in a row, and the same facts as rows of a log, tell the same lives.

Made stories from seeds; the log is written from the story, never from the row.
"""

from __future__ import annotations

import csv
import datetime as dt
import random
from pathlib import Path
from typing import Any

import pytest

from fleetstats.records.audit.audit import audit_records
from fleetstats.records.readers import read_records
from fleetstats.spells.build import build_spells
from fleetstats.spells.recurrent import build_histories
from fleetstats.study.study import read_study

HEAD = """[study]
title = "made"
analysis_date = 2026-12-31
[hours]
basis = "{basis}"
[treat]
"failure-or-not" = "accept"
[[records]]
file = "{file}"
shape = "{shape}"
source = "shop"
"""
RENEWS = """after_meter_change = "new-meter"
[records.renews]
"back in service" = "nothing"
"new crank" = "all"
"new gearbox" = "part"
"weld" = "nothing"
"""
WORK = {
    "new crank": "overhauled",
    "new gearbox": "part-fitted",
    "weld": "",
    "overhaul": "overhauled",
}
CAUSES = ("crank", "bearing", "gear tooth")


class Story:
    """One engine told twice: as cells of a row and as rows of a log."""

    def __init__(self, engine: str, draw: random.Random, *, dated: bool) -> None:
        self.engine, self.draw, self.dated = engine, draw, dated
        self.row: dict[str, Any] = {"engine": engine}
        self.log: list[dict[str, Any]] = []
        self.meter_h, self.day = 0.0, dt.date(2010, 1, 1)
        self.tell("installed", hours=0)
        self.row["in service"] = self.date()
        for n in range(1, draw.randint(0, 3) + 1):
            self.between()
            self.fail(n)
        self.between()
        self.run()
        self.tell("reading")
        self.row |= {"hours now": self.meter_h, "as of": self.date()}

    def date(self) -> str:
        return str(self.day) if self.dated else ""

    def tell(self, kind: str, **more: Any) -> None:
        row = {"engine": self.engine, "kind": kind, "date": self.date(), "hours": self.meter_h}
        self.log.append(row | more)

    def run(self) -> None:
        self.meter_h = round(self.meter_h + self.draw.uniform(50, 400), 1)
        self.day += dt.timedelta(days=self.draw.randint(200, 500))

    def fail(self, n: int) -> None:
        self.run()
        cause, work = self.draw.choice(CAUSES), self.draw.choice(("", *WORK))
        self.tell("failed", cause=cause)
        self.row |= {f"failed at {n}": self.meter_h, f"failed on {n}": self.date(),
                     f"cause {n}": cause, f"work {n}": work}  # fmt: skip
        self.day += dt.timedelta(days=40)
        self.meter_h += self.draw.choice((0.0, 0.0, 2.0))
        self.row |= {f"back in service {n}": self.meter_h, f"back on {n}": self.date()}
        kind = WORK.get(work, "")
        if kind == "part-fitted":
            self.tell(kind, hours="", component="gearbox")
        elif kind:
            self.tell(kind)
        self.tell("returned")

    def between(self) -> None:
        """Let one more thing happen in service, each kind at most once."""
        what = self.draw.choice(("", "check", "prop strike", "meter"))
        if what == "check" and "checked at" not in self.row:
            self.run()
            self.tell("check")
            self.row |= {"checked at": self.meter_h, "checked on": self.date()}
        elif what == "prop strike" and "prop strike at" not in self.row:
            self.run()
            self.tell("removed", cause="prop strike")
            self.row |= {"prop strike at": self.meter_h, "prop strike on": self.date()}
            self.tell("returned", date="")
        elif what == "meter" and self.dated and "meter changed at" not in self.row:
            self.run()
            new = self.draw.choice((0.0, 25.0))
            self.tell("meter-changed", new_reading_hours=new)
            self.row |= {"meter changed at": self.meter_h, "meter changed on": self.date(),
                         "new meter reading": new}  # fmt: skip
            self.meter_h = new


def write(path: Path, rows: list[dict[str, Any]], rng: random.Random) -> None:
    heads = list(dict.fromkeys(h for r in rows for h in r))
    rng.shuffle(heads)
    with path.open("w", newline="", encoding="utf-8") as f:
        writer = csv.DictWriter(f, heads, restval="")
        writer.writeheader()
        writer.writerows(rows)


def read(folder: Path, file: str, shape: str, basis: str, more: str = "") -> Any:
    toml = HEAD.format(basis=basis, file=file, shape=shape) + more
    (folder / "study.toml").write_text(toml, encoding="utf-8")
    study = read_study(folder)
    records = read_records(study)
    audit = audit_records(study, records)
    assert audit.ok, audit.stops
    assert audit.n_set_aside == 0, audit.set_aside
    return study, records, audit


def told(audit: Any) -> list[tuple[Any, ...]]:
    return sorted(
        (x.engine, x.life_start_h + x.entry_h, x.entry_h, x.exit_h, x.life, x.ending, x.cause,
         str(x.in_service), str(x.observed_from), str(x.last_reading), str(x.ended),
         x.last_good_h or -1.0)
        for x in audit.used
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(12))
def test_a_history_and_its_log_tell_the_same_lives(tmp_path: Path, seed: int) -> None:
    draw = random.Random(seed)
    stories = [Story(f"E-{i}", draw, dated=seed % 3 > 0) for i in range(1, 16)]
    basis = "since-overhaul" if seed % 2 else "since-new"
    write(tmp_path / "h.csv", [s.row for s in stories], draw)
    write(tmp_path / "log.csv", [e for s in stories for e in s.log], draw)
    one = read(tmp_path, "h.csv", "histories", basis, RENEWS)
    two = read(tmp_path, "log.csv", "log", basis)
    assert told(one[2]) == told(two[2])
    ends = [[f for f in r.findings if f.code.startswith("log-")] for r in (one[1], two[1])]
    assert sorted(f.message for f in ends[0]) == sorted(f.message for f in ends[1])
    spells = [build_spells(*x) for x in (one, two)]
    assert spells[0].spells.n_failed == spells[1].spells.n_failed
    assert spells[0].spells.exposure_h == pytest.approx(spells[1].spells.exposure_h)
    assert spells[0].trouble.counts == spells[1].trouble.counts
    assert spells[0].left_out == spells[1].left_out == ()
    again = [build_histories(x[1], x[0].settings).histories for x in (one, two)]
    assert again[0] is not None
    assert again[0].to_dict() == again[1].to_dict()


def test_the_order_of_columns_and_rows_changes_nothing(tmp_path: Path) -> None:
    draw = random.Random(7)
    rows = [Story(f"E-{i}", draw, dated=True).row for i in range(1, 16)]
    lives = []
    for seed in (1, 2, 3):
        rng = random.Random(seed)
        rng.shuffle(rows)
        write(tmp_path / "h.csv", rows, rng)
        lives.append(told(read(tmp_path, "h.csv", "histories", "since-new", RENEWS)[2]))
    assert lives[0] == lives[1] == lives[2]


def test_another_report_of_the_same_failure_counts_once(tmp_path: Path) -> None:
    draw = random.Random(3)
    stories = [Story(f"E-{i}", draw, dated=True) for i in range(1, 9)]
    write(tmp_path / "h.csv", [s.row for s in stories], draw)
    write(tmp_path / "log.csv", [e for s in stories for e in s.log], draw)
    alone = build_spells(*read(tmp_path, "h.csv", "histories", "since-new", RENEWS))
    toml = HEAD.format(basis="since-new", file="h.csv", shape="histories") + RENEWS
    toml += '[[records]]\nfile = "log.csv"\nshape = "log"\nsource = "club"\n'
    (tmp_path / "study.toml").write_text(toml, encoding="utf-8")
    study = read_study(tmp_path)
    records = read_records(study)
    both = build_spells(study, records, audit_records(study, records))
    assert both.spells.n_failed == alone.spells.n_failed > 0
    assert both.left_out == ()
