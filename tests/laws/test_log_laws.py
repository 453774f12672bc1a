"""What holds for every log, however malformed: no traceback, no row lost, no impossible life."""

import datetime as dt
import itertools
from dataclasses import replace
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from fleetstats.records import log_event
from fleetstats.records.clocks.clocks import estimate_own_factors
from fleetstats.records.log import log as log_module
from fleetstats.records.log import log_replay
from fleetstats.records.log.clock_events import align_events
from fleetstats.records.log.components import replay_components
from fleetstats.records.log.log import replay_log
from fleetstats.records.log.log_reader import read_log_events
from fleetstats.records.log.one_log import join_logs
from fleetstats.records.log_event import LogEvent
from fleetstats.records.merging.merge import merge_returns
from fleetstats.records.reading import Reading, Records
from fleetstats.records.rules import judge_ending
from fleetstats.spells.build import spells_of
from fleetstats.spells.recurrent import build_histories
from fleetstats.study.settings import HoursKeys, QuestionKeys, Settings, StudyKeys, TreatKeys
from fleetstats.study.study import RecordFile
from fleetstats.tables.table import RawRow, RawTable
from fleetstats.vocabulary.events import KINDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.findings import LOG_FINDINGS

DAY = dt.date(2026, 1, 1)
FEW = hypothesis_settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)

hours = st.one_of(
    st.none(),
    st.sampled_from([0.0, 0.05, 1.0, 50.0, 100.0, 100.0, 812.4, 1200.0, 1e5]),
    st.floats(0, 2000, allow_nan=False),
)
days = st.one_of(st.none(), st.dates(dt.date(1990, 1, 1), dt.date(2026, 1, 1)))
flags = st.sampled_from([None, True, False])
events = st.builds(
    LogEvent,
    origin=st.just(Origin(file="log.csv", row=0)),
    engine=st.sampled_from(["A", "a", "B", "C-1"]),
    kind=st.sampled_from(sorted(KINDS)),
    hours=hours,
    date=days,
    cause=st.sampled_from(["", "valve", "prop strike", "planned overhaul", "turbocharger"]),
    confirmed=flags,
    component=st.sampled_from(["", "", "turbocharger", "cylinder"]),
    serial=st.sampled_from(["", "T1", "T2"]),
    position=st.sampled_from(["", "1", "2"]),
    since_new_h=st.one_of(st.none(), st.none(), hours),
    since_overhaul_h=st.one_of(st.none(), st.none(), hours),
    new_reading_h=st.one_of(st.none(), hours),
    build=st.sampled_from(["", "I", "II"]),
    meter=st.sampled_from(["", "", "flight", "hobbs", "tach"]),
    cost=st.sampled_from([None, 10.0]),
)
studies = st.builds(
    lambda basis, log_hours, level, treat: Settings(
        study=StudyKeys(title="made up", analysis_date=DAY),
        hours=HoursKeys(basis=basis, log_hours=log_hours, factors={"hobbs": [0.9, 0.8, 1.0]}),
        question=QuestionKeys(level=level),
        treat=TreatKeys(actions=dict.fromkeys(LOG_FINDINGS, treat) if treat else {}),
    ),
    st.sampled_from(["since-new", "since-overhaul"]),
    st.sampled_from(["since-new", "since-overhaul"]),
    st.sampled_from(["confirmed-removal", "beyond-limits", "power-loss"]),
    st.sampled_from(["", "accept", "set-aside"]),
)


def numbered(log):
    return tuple(replace(e, origin=Origin(file="log.csv", row=i + 2)) for i, e in enumerate(log))


@st.composite
def logs(draw):
    """A log of anything; half of them with dates and hours that rise, to get further in."""
    log = draw(st.lists(events, max_size=14))
    if draw(st.booleans()):
        when = sorted(draw(st.lists(st.integers(0, 9000), min_size=len(log), max_size=len(log))))
        run = sorted(draw(st.lists(st.floats(0, 2000), min_size=len(log), max_size=len(log))))
        log = [
            replace(e, date=dt.date(1995, 1, 1) + dt.timedelta(days=d), hours=h, meter="",
                    since_new_h=e.since_new_h if e.kind.startswith("part") else None,
                    since_overhaul_h=None)
            for e, d, h in zip(log, when, run, strict=True)
        ]  # fmt: skip
    return numbered(log)


def each_row_once(rows, aside, n):
    told = [k for r in rows for k in r.rows] + [s.row for s in aside]
    assert sorted(told) == list(range(2, n + 2))


@FEW
@given(logs(), studies)
def test_every_log_replays_to_possible_lives_and_no_row_is_lost(log, s):
    own, _ = estimate_own_factors(log, s)
    aligned = align_events(log, s, own=own)
    replay = replay_log(aligned.events, s)
    assert replay.n_used + len(replay.set_aside) == replay.n_read
    each_row_once(replay.rows, (*aligned.set_aside, *replay.set_aside), len(log))
    aside = {x.row for x in (*aligned.set_aside, *replay.set_aside)}
    failed = [e for e in log if e.kind == "failed" and e.row not in aside]
    assert len(failed) <= sum(r.ending == "failed" for r in replay.rows)
    for r in replay.rows:
        assert 0 <= r.entry_h < r.exit_h
        assert r.last_good_h is None or r.entry_h <= r.last_good_h <= r.exit_h
    spells_of(replay.rows, tuple(judge_ending(r, s) for r in replay.rows), s)
    for f in (*aligned.findings, *replay.findings):
        assert f.file == "log.csv"
        assert f.row is not None
        assert f.message
    by_engine = {}
    for r in replay.rows:
        by_engine.setdefault(r.engine_id, []).append(
            (r.life_start_h + r.entry_h, r.life_start_h + r.exit_h)
        )
    for spans in by_engine.values():
        spans.sort()
        assert all(a[1] <= b[0] + 1e-6 for a, b in itertools.pairwise(spans))


def replayed_either_way(log, s):
    """Replay a log with quiet events taken at once and one by one; compare and return it."""
    at_once = replay_log(align_events(log, s).events, s)
    with (
        patch.object(log_replay, "_run_on", lambda _state, _events, at: at),
        patch.object(log_event, "_each_on_a_later_day", lambda _: False),
        patch.object(log_module, "_all_kept", lambda *_: False),
    ):
        assert replay_log(align_events(log, s).events, s) == at_once
    lives_alone = replay_log(align_events(log, s).events, s, histories=False)
    assert lives_alone == replace(at_once, logs=())
    return at_once


@FEW
@given(logs(), studies)
def test_what_is_passed_over_of_a_quiet_event_changes_nothing(log, s):
    """Events that only tell that an engine runs on are taken at once: as if each were asked all."""
    replayed_either_way(log, s)


FOUND = {"kind": "finding", "hours": 150.0, "confirmed": True}


@pytest.mark.parametrize(
    ("told", "code"),
    [
        ([{"hours": 150.0}], ""),
        ([{"hours": 150.0}, {"kind": "check", "hours": 150.0}], ""),
        ([{"hours": 99.95}], ""),
        ([{"hours": 900.0, "days": 1}], "log-too-fast"),
        ([{"hours": 60.0}], "log-hours-backwards"),
        ([{"hours": 150.0, "build": "II"}], "log-build-changed"),
        ([{"hours": 150.0, "kind": "check", "build": "II"}], ""),
        ([{"hours": 150.0, "since_new_h": 400.0}], "log-clocks-disagree"),
        ([{"hours": 150.0, "since_overhaul_h": 400.0}], "log-clocks-disagree"),
        ([{"hours": 90.0, "doubt_h": (0.0, 30.0)}], ""),
        ([{"hours": 150.0, "categories": {"use": "tow"}}], ""),
        ([{"hours": None}], "log-hours-missing"),
        ([FOUND, {"hours": 200.0}, {"kind": "removed", "hours": 210.0}], ""),
        ([{"kind": "overhauled", "hours": 150.0}, {"hours": 20.0}], "log-hours-backwards"),
        ([{"kind": "overhauled", "hours": 150.0}, {"kind": "installed", "hours": 150.0},
          {"hours": 180.0}], ""),
        ([{"kind": "lost", "hours": 150.0}, {"hours": 180.0}], ""),
        ([{"kind": "meter-changed", "hours": 150.0, "new_reading_h": 0.0}, {"hours": 20.0}], ""),
        ([{"hours": 150.0, "days": None}, {"hours": 170.0}], ""),
        ([{"hours": 150.0, "days": None}], ""),
        ([{"kind": "overhauled", "hours": 150.0}, {"kind": "returned", "hours": None},
          {"hours": 20.0}], "log-hours-backwards"),
        ([{"kind": "overhauled", "hours": 150.0}, {"kind": "returned", "hours": None},
          {"hours": 160.0}], ""),
        ([{"hours": 150.0, "days": 0}, {"kind": "check", "hours": 140.0, "days": 0}],
         "log-hours-backwards"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("keys", [
    {}, {"basis": "since-overhaul"}, {"log_hours": "since-overhaul"},
])  # fmt: skip
@pytest.mark.parametrize("level", ["confirmed-removal", "beyond-limits"])
def test_an_event_that_tells_more_is_not_passed_over(told, code, keys, level):
    """Each thing that a reading may tell beside later hours, behind an installation at 100 h."""
    day, log = dt.date(2000, 1, 1), []
    for e in [{"kind": "installed", "hours": 100.0, "build": "I"}, *told]:
        more = {"engine": "A", "kind": "reading", "origin": Origin(file="log.csv", row=0)} | e
        days = more.pop("days", 40)
        day += dt.timedelta(days=days or 0)
        log.append(LogEvent(**more, date=None if days is None else day))
    s = Settings(
        study=StudyKeys(title="made up", analysis_date=DAY),
        hours=HoursKeys(**keys),
        question=QuestionKeys(level=level),
    )
    codes = {f.code for f in replayed_either_way(numbered(log), s).findings}
    assert keys or not code or code in codes


PLACES = ("origin", "rows", "elsewhere", "log_file")


def told_of(life):
    """Return what a life says, but for the lines that it stands on."""
    return {k: v for k, v in life.to_dict().items() if k not in PLACES}


@FEW
@given(logs(), studies, st.integers(0, 14), st.sampled_from(["", "turbocharger"]))
def test_a_log_over_two_files_tells_what_it_tells_in_one(log, s, cut, component):
    """A cut anywhere, within an engine's rows too; each line is in one life or set aside."""
    parts = (log[:cut], log[cut:])
    readings = [
        Reading(
            file=f"{i}.csv",
            shape="log",
            source="shop",
            events=tuple(replace(e, origin=Origin(file=f"{i}.csv", row=e.row)) for e in part),
        )
        for i, part in enumerate(parts)
    ]
    joined = join_logs(readings)
    assert sum(len(events) for events in joined) == len(log)
    if len(joined) > 1:
        return  # an event told in both files: two reports, which are merged as returns are
    rows, aside = [], []
    for events in (log, *joined):
        aligned = align_events(events, s)
        replay = replay_log(aligned.events, s)
        lives, left = replay.rows, (*aligned.set_aside, *replay.set_aside)
        if component:
            parts_told = replay_components(replay.logs, s, component)
            lives, left = parts_told.rows, (*left, *parts_told.set_aside)
        rows.append(lives)
        aside.append(left)
    if log:
        assert list(map(told_of, rows[0])) == list(map(told_of, rows[1]))
        lines = [(f, n) for r in rows[1] for f, _, n in r.lines]
        lines += [(a.file, a.row) for a in aside[1]]
        assert sorted(lines) == sorted((r.file, e.row) for r in readings for e in r.events)


def at_once() -> tuple[LogEvent, ...]:
    """A log with an overhaul because of a valve at the hours at which the engine was put in."""
    day = dt.date(1995, 1, 1)
    told = [("check", 0.0, ""), ("overhauled", 0.0, "valve"), ("check", 1.0, "")]
    return numbered(
        [
            LogEvent(origin=Origin(file="log.csv", row=2), engine="A", kind=kind, hours=hours,
                     date=day, cause=cause)
            for kind, hours, cause in told
        ]
    )  # fmt: skip


@FEW
@given(logs(), studies)
@example(at_once(), Settings(study=StudyKeys(title="made up", analysis_date=DAY)))
def test_components_and_histories_of_every_log(log, s):
    aligned = align_events(log, s)
    replay = replay_log(aligned.events, s)
    for component in ("turbocharger", "cylinder"):
        c = replay_components(replay.logs, s, component)
        each_row_once(c.rows, (*aligned.set_aside, *replay.set_aside, *c.set_aside), len(log))
        for r in c.rows:
            assert 0 <= r.entry_h < r.exit_h + 1e-9
    records = Records(
        rows=replay.rows, readings=(Reading(file="log.csv", shape="log", events=aligned.events),)
    )
    h = build_histories(records, s).histories
    assert h is None or np.isfinite(h.exposure_h)


@FEW
@given(st.lists(events, max_size=10), st.lists(events, max_size=10), studies)
def test_two_returns_merge_without_losing_a_row(one, two, s):
    rows = []
    n = 0
    for name, log in (("one.csv", one), ("two.csv", two)):
        kept = align_events(
            tuple(replace(e, origin=Origin(file=name, row=i)) for i, e in enumerate(log)), s
        )
        lives = replay_log(kept.events, s).rows
        n += sum(len(r.rows) for r in lives)
        rows += lives
    m = merge_returns(tuple(rows), s)
    told = [(r.origin.file, k) for r in m.rows for k in r.rows]
    told += [(a.file, a.row) for a in m.set_aside]
    assert len(told) == n
    assert len(set(told)) == n
    assert m.n_events_after <= m.n_events_before
    for r in m.rows:
        assert r.entry_h < r.exit_h


cells = st.one_of(
    st.none(),
    st.text(max_size=12),
    st.sampled_from(["installed", "reading", "failed", "12:30", "1.234,5", "=1+1", "nan", "inf",
                     "1e308", "-5", "2024-02-30", "03/04/2021", "tach", "yes", "E-1"]),
    st.floats(),
    st.integers(-(10**40), 10**40),
    st.booleans(),
    st.dates(),
    st.datetimes(),
    st.timedeltas(),
)  # fmt: skip
HEADER = tuple(f.name for f in LOG_FIELDS)


@FEW
@given(st.lists(st.lists(cells, min_size=len(HEADER), max_size=len(HEADER)), max_size=6))
def test_cells_of_any_kind_are_read_or_set_aside(rows):
    s = Settings(study=StudyKeys(title="made up", analysis_date=DAY))
    table = RawTable(
        file="log.csv",
        header=HEADER,
        rows=tuple(RawRow(row=i + 2, cells=tuple(r)) for i, r in enumerate(rows)),
    )
    reading = read_log_events(table, RecordFile(file="log.csv", shape="log"), s)
    told = [e.row for e in reading.events] + [a.row for a in reading.set_aside]
    assert sorted(told) == list(range(2, len(rows) + 2))
    replay = replay_log(align_events(reading.events, s).events, s)
    assert replay.n_used + len(replay.set_aside) == replay.n_read


@FEW
@given(logs(), st.randoms(use_true_random=False))
def test_the_order_of_engines_in_the_file_does_not_matter(log, rng):
    s = Settings(study=StudyKeys(title="made up", analysis_date=DAY))
    groups = {}
    for e in log:
        groups.setdefault(e.engine_id, []).append(e)
    names = list(groups)
    rng.shuffle(names)
    mixed = tuple(e for n in names for e in groups[n])

    def lives(events):
        return sorted(
            (r.engine_id, r.entry_h, r.exit_h, r.ending, r.rows) for r in replay_log(events, s).rows
        )

    assert lives(log) == lives(mixed)
