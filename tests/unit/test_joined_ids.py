"""Every join on an engine's id takes the ways in which clerks write one serial as one.

The two sides of each join are written by two hands: "K6-0274" in one table, another way in the
other. What comes of it must be what comes of one spelling. No outside source: a join that misses
loses an engine, a check or a failure in silence.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from fleetstats.chapters.checks.compliance import count_checks
from fleetstats.chapters.checks.lives import build_check_lives
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.condition.checks import CheckRow
from fleetstats.records.condition.condition import read_condition
from fleetstats.records.life import LifeRow
from fleetstats.records.merging.merge import merge_returns
from fleetstats.records.readers import read_records
from fleetstats.spells.build import build_spells
from fleetstats.spells.recurrent import build_histories
from fleetstats.spells.running import find_running
from fleetstats.spells.spells import Spells
from fleetstats.studies.compare.attribution import walk_advice
from fleetstats.studies.compare.engines import engine_changes
from fleetstats.study.pool_settings import MergeKeys, check_decisions
from fleetstats.study.settings import Settings, StudyKeys
from fleetstats.study.study import read_study
from fleetstats.vocabulary.finding import Origin

ONE = "K6-0274"
SPELT = ("K6-0274", "K6 0274", "k6-0274", "K6_0274", "k6/274", "K6 274")
DAY = dt.date(2025, 12, 31)


def life(engine: str, exit_h: float, ending: str, file: str = "a.csv", row: int = 2) -> LifeRow:
    return LifeRow(
        origin=Origin(file=file, row=row), rows=(row,), source=file, engine=engine, exit_h=exit_h,
        ending=ending, in_service=dt.date(2015, 1, 1), last_reading=dt.date(2025, 6, 1),
    )  # fmt: skip


def settings(**tables: object) -> Settings:
    return Settings(study=StudyKeys(title="t", analysis_date=DAY), **tables)  # type: ignore[arg-type]


def folder(at: Path, records: str, files: dict[str, str], tables: str = "") -> Path:
    head = f'[study]\ntitle = "T"\nanalysis_date = {DAY}\n{tables}\n'
    (at / "study.toml").write_text(head + records, encoding="utf-8")
    for name, text in files.items():
        (at / name).write_text(text, encoding="utf-8")
    return at


def serials(other: str, at: Path) -> object:
    files = {
        "lives.csv": f"engine,exit_hours,ending\n{ONE},900,failed\n",
        "built.csv": f"engine\n{other}\nE-2\n",
    }
    study = read_study(
        folder(at, '[[records]]\nfile = "lives.csv"\n', files,
               '[fleet]\nserials_file = "built.csv"')
    )  # fmt: skip
    records = read_records(study)
    audit = audit_records(study, records)
    codes = sorted(f.code for f in audit.findings)
    return codes, build_spells(study, records, audit).n_fate_unknown


def condition(other: str, at: Path) -> object:
    files = {
        "lives.csv": f"engine,exit_hours,ending\n{ONE},900,running\n",
        "checks.csv": f"engine,hours,result\n{other},100,clean\n{ONE},200,clean\n",
        "leak.csv": "engine,cylinder,hours,reading\n"
        f"{other},1,100,78\n{ONE},1,200,76\n",
    }  # fmt: skip
    records = "".join(
        f'[[records]]\nfile = "{f}.csv"\nshape = "{s}"\n'
        for f, s in (("lives", "lives"), ("checks", "checks"), ("leak", "leakdown"))
    )
    study = read_study(folder(at, records, files))
    read = read_condition(study, read_records(study).rows)
    named = {c.engine for c in (*read.checks, *read.leakdown)}
    return named, len(read.odd), len(read.checks), len(read.leakdown)


def merged(other: str, _at: Path) -> object:
    m = merge_returns(
        (life(ONE, 900.0, "failed"), life(other, 905.0, "failed", "b.csv")), settings()
    )
    return len(m.rows), m.n_events_after


def decided(other: str, _at: Path) -> object:
    decision = {"engine": other, "take": "b.csv row 2", "reason": "asked"}
    keys = MergeKeys(decisions=(decision,))
    m = merge_returns(
        (life(ONE, 900.0, "failed"), life(ONE, 1200.0, "running", "b.csv")), settings(merge=keys)
    )
    problems: list[str] = []
    twice = (decision, decision | {"engine": ONE})
    check_decisions(MergeKeys(decisions=twice), problems)
    return [r.exit_h for r in m.rows], len(m.findings), len(problems)


def checks_of_lives(other: str, _at: Path) -> object:
    at = Origin(file="c.csv", row=2)
    made = [
        CheckRow(origin=at, engine=name, hours_h=h, result="clean")
        for name, h in ((other, 100.0), (ONE, 200.0))
    ]
    rows = [life(ONE, 260.0, "running")]
    lives = build_check_lives(rows, made, settings())
    kept = count_checks(rows, made, settings())
    return (
        [lives.checks(i).tolist() for i in range(len(lives.unit))],
        lives.assumed.tolist(),
        None if kept is None else (kept.n_without, [(e.late, e.longest_h) for e in kept.engines]),
    )


def running(other: str, _at: Path) -> object:
    rows = [life(ONE, 900.0, "running"), life(other, 700.0, "running", row=3)]
    return [e.age_h for e in find_running(rows, settings())]


def recurrence(other: str, at: Path) -> object:
    logs = {
        f"{i}.csv": "engine,date,hours,kind\n"
        f"{name},2015-01-01,0,installed\n{name},2020-01-01,{h},unscheduled\n"
        f"{name},2021-01-01,{h + 100},reading\n"
        for i, (name, h) in enumerate(((ONE, 400), (other, 450)))
    }
    records = "".join(
        f'[[records]]\nfile = "{f}"\nshape = "log"\nsource = "club {f}"\n' for f in logs
    )
    study = read_study(folder(at, records, logs))
    made = build_histories(read_records(study), study.settings)
    assert made.histories is not None
    return made.histories.exposure_h, [f.code for f in made.findings]


def compared(other: str, at: Path) -> object:
    old = Spells.of(0, [500.0, 800.0], [0, 0], unit=[other, "E-2"])
    new = Spells.of(0, [900.0, 950.0], [1, 0], unit=[ONE, "E-2"])
    study = read_study(
        folder(at, '[[records]]\nfile = "l.csv"\n',
               {"l.csv": f"engine,exit_hours,ending\n{ONE},900,running\n"})
    )  # fmt: skip
    walk = walk_advice(study, old, study, new)
    kinds = [(c.unit, c.kind) for c in engine_changes(old, new)]
    return kinds, walk.data.engines_both, walk.data.engines_gone, walk.data.engines_new


def spells(other: str, at: Path) -> object:
    text = f"engine,entry_hours,exit_hours,ending\n{ONE},,500,running\n{other},500,900,failed\n"
    study = read_study(folder(at, '[[records]]\nfile = "l.csv"\n', {"l.csv": text}))
    records = read_records(study)
    built = build_spells(study, records, audit_records(study, records))
    return built.spells.n_engines, built.funnel.total, np.unique(built.spells.unit).tolist()


JOINS: tuple[Callable[[str, Path], object], ...] = (
    serials, condition, merged, decided, checks_of_lives, running, recurrence, compared, spells,
)  # fmt: skip


@pytest.mark.parametrize("join", JOINS, ids=lambda j: j.__name__)
@pytest.mark.parametrize("other", SPELT[1:])
def test_both_spellings_are_one_engine(
    join: Callable[[str, Path], object], other: str, tmp_path: Path
) -> None:
    assert join(other, tmp_path) == join(ONE, tmp_path)


@pytest.mark.parametrize("join", JOINS, ids=lambda j: j.__name__)
def test_another_engine_is_another(join: Callable[[str, Path], object], tmp_path: Path) -> None:
    """The comparison can fail: with an id of another engine each join tells something else."""
    assert join("K6-0275", tmp_path) != join(ONE, tmp_path)
