"""Components that move between engines, and events that recur, worked out by hand."""

import datetime as dt

import pytest

from fleetstats.records.log.components import replay_components
from fleetstats.records.log.log import replay_log
from fleetstats.records.log_event import LogEvent
from fleetstats.records.reading import Reading, Records
from fleetstats.spells.recurrent import build_histories
from fleetstats.study.settings import HoursKeys, Settings, StudyKeys, TreatKeys
from fleetstats.vocabulary.finding import Origin

STUDY = StudyKeys(title="made up", analysis_date=dt.date(2026, 1, 1))


def settings(*, treat=None, **hours):
    return Settings(study=STUDY, hours=HoursKeys(**hours), treat=TreatKeys(actions=treat or {}))


def log(*rows):
    return tuple(
        LogEvent(
            origin=Origin(file="log.csv", row=i + 2),
            engine=engine,
            date=dt.date.fromisoformat(day) if day else None,
            hours=hours,
            kind=kind,
            **(rest[0] if rest else {}),
        )
        for i, (engine, day, hours, kind, *rest) in enumerate(rows)
    )


def turbo(serial="", **more):
    return {"component": "turbocharger", "serial": serial, **more}


def parts(rows, component="turbocharger", **kw):
    s = settings(**kw)
    replay = replay_log(log(*rows), s)
    return replay_components(replay.logs, s, component), replay


def lives(c):
    return sorted((r.engine, r.entry_h, r.exit_h, r.ending, r.parts["engine"]) for r in c.rows)


MOVES = [
    ("A", "2020-01-01", 0, "installed"),
    ("A", "2020-01-01", 0, "part-fitted", turbo("T1")),
    ("B", "2020-01-01", 0, "installed"),
    ("A", "2021-01-01", 400, "part-removed", turbo("T1")),
    ("A", "2021-01-01", 400, "part-fitted", turbo("T2")),
    ("B", "2021-02-01", 250, "part-removed", turbo("T9", cause="bearing", confirmed=True)),
    ("B", "2021-02-01", 250, "part-fitted", turbo("T1")),
    ("B", "2022-02-01", 550, "reading"),
    ("A", "2022-03-01", 700, "reading"),
]


def test_a_turbocharger_takes_its_hours_from_engine_to_engine():
    """T1: 0-400 h in A, then 300 h in B: 400-700. T2: 0-300 in A. T9 was B's own, 0-250."""
    c, replay = parts(MOVES)
    assert lives(c) == [
        ("T1", 0, 400, "removed", "A"),
        ("T1", 400, 700, "running", "B"),
        ("T2", 0, 300, "running", "A"),
        ("T9", 0, 250, "failed", "B"),
    ]
    assert c.findings == ()
    rows = sorted(n for r in c.rows for n in r.rows) + [s.row for s in c.set_aside]
    assert sorted(rows) == list(range(2, 11))
    assert sorted(n for r in replay.rows for n in r.rows) == list(range(2, 11))


def test_a_part_never_named_is_exposure_too():
    """Nobody ever touched the gearbox of A or B: two lives still running."""
    c, _ = parts(MOVES, component="gearbox")
    assert lives(c) == [
        ("A gearbox", 0, 700, "running", "A"),
        ("B gearbox", 0, 550, "running", "B"),
    ]


def test_a_part_that_no_event_names_stops_until_the_study_says_so():
    """A misspelt component would have a perfect record: every engine's runs, none ever failed."""
    c, _ = parts(MOVES, component="turbocharegr")
    (f,) = (f for f in c.findings if f.code == "component-never-named")
    assert (f.severity, f.action, f.value) == ("error", "stop", "turbocharegr")
    assert "Did you mean 'turbocharger'?" in f.message
    c, _ = parts(MOVES, component="gearbox", treat={"component-never-named": "accept"})
    assert [f.action for f in c.findings] == ["accept"]
    assert len(c.rows) == 2
    c, _ = parts(MOVES)
    assert "component-never-named" not in [f.code for f in c.findings]
    # A failure of the engine that is blamed on the part names it too.
    blamed = [*MOVES, ("A", "2022-05-01", 720, "failed", {"cause": "Gearbox"})]
    c, _ = parts(blamed, component="gearbox")
    assert "component-never-named" not in [f.code for f in c.findings]


def test_parts_of_one_engine_share_the_dates_of_its_rows():
    """Two places, one never touched: both were last seen on the engine's last reading."""
    rows = [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 300, "part-removed", turbo("T1", position="left")),
        ("A", "2021-01-01", 300, "part-fitted", turbo("T2", position="left")),
        ("A", "2022-01-01", 500, "finding", turbo(position="right")),
        ("A", "2023-01-01", 700, "reading"),
    ]
    c, _ = parts(rows)
    last = {(r.engine, r.ending): r.last_reading for r in c.rows}
    assert last[("T2", "running")] == dt.date(2023, 1, 1)
    assert last[("A turbocharger right", "running")] == dt.date(2023, 1, 1)
    assert all(r.origin.row is not None for r in c.rows)
    assert sorted(n for r in c.rows for n in r.rows) == [2, 3, 4, 5, 6]  # each row once


def test_a_part_in_two_engines_at_once_is_found():
    rows = [e for e in MOVES if e[:3] != ("A", "2021-01-01", 400)]
    c, _ = parts(rows)
    found = {f.code: f for f in c.findings}
    assert "component-in-two-engines" in found
    f = found["component-in-two-engines"]
    assert (f.severity, f.action, f.value, f.engine) == ("error", "stop", "T1", "B")
    c, _ = parts(rows, treat={"component-in-two-engines": "set-aside"})
    assert "T1" not in [r.engine for r in c.rows]


@pytest.mark.parametrize(
    ("rows", "code"),
    [
        ([("A", "2020-01-01", 0, "installed"),
          ("A", "2020-01-01", 0, "part-fitted", turbo("T1")),
          ("A", "2021-01-01", 300, "part-removed", turbo("T7")),
          ("A", "2022-01-01", 400, "reading")], "component-not-fitted"),
        ([("A", "2020-01-01", 0, "installed"),
          ("A", "2020-01-01", 0, "part-fitted", turbo("T1")),
          ("A", "2021-01-01", 300, "part-fitted", turbo("T7")),
          ("A", "2022-01-01", 400, "reading")], "component-place-taken"),
        ([("A", "2020-01-01", 0, "installed"),
          ("A", "2021-01-01", 300, "part-fitted", turbo("")),
          ("A", "2022-01-01", 400, "reading")], "component-serial-missing"),
        ([("A", "2020-01-01", 600, "reading"),
          ("A", "2022-01-01", 700, "reading")], "component-hours-unknown"),
        ([*MOVES[:6], ("B", "2021-02-01", 250, "part-fitted", turbo("T1", since_new_h=900.0)),
          *MOVES[7:]], "component-hours-disagree"),
    ],
)  # fmt: skip
def test_every_malformed_part_event_gives_its_finding(rows, code):
    c, replay = parts(rows)
    f = next(f for f in c.findings if f.code == code)
    assert f.message
    assert f.advice
    assert f.file == "log.csv"
    used = sorted(n for r in c.rows for n in r.rows)
    aside = [s.row for s in (*c.set_aside, *replay.set_aside)]
    assert sorted(used + aside) == list(range(2, len(rows) + 2))


def test_a_part_of_unknown_hours_enters_only_where_the_study_says_so():
    rows = [("A", "2020-01-01", 600, "reading"), ("A", "2022-01-01", 700, "reading")]
    assert parts(rows)[0].rows == ()
    c, _ = parts(rows, treat={"component-hours-unknown": "accept"})
    assert lives(c) == [("A turbocharger", 600, 700, "running", "A")]


def test_a_part_younger_than_its_engine_was_fitted_later():
    """Removed at 500 h with 200 h on it: fitted new at 300 h, where another had left."""
    c, _ = parts(
        [
            ("A", "2020-01-01", 0, "installed"),
            ("A", "2021-01-01", 500, "part-removed", turbo("T1", since_new_h=200.0)),
            ("A", "2021-01-01", 500, "part-fitted", turbo("T2")),
            ("A", "2022-01-01", 600, "reading"),
        ]
    )
    assert lives(c) == [
        ("A turbocharger", 0, 300, "removed", "A"),
        ("T1", 0, 200, "removed", "A"),
        ("T2", 0, 100, "running", "A"),
    ]
    assert [f.code for f in c.findings] == ["component-fitting-inferred"]


def test_parts_of_an_engine_on_a_clock_without_a_factor_are_refused():
    rows = [
        ("A", "2020-01-01", 0, "installed", {"meter": "tach"}),
        ("A", "2021-01-01", 90, "reading", {"meter": "tach"}),
        ("B", "2020-01-01", 0, "installed"),
        ("B", "2021-01-01", 80, "reading"),
        ("C", "2020-01-01", 0, "installed"),
        ("C", "2021-01-01", 70, "finding", turbo()),
    ]
    c, _ = parts(rows)
    assert [r.engine for r in c.rows] == ["B turbocharger", "C turbocharger"]
    assert [(f.code, f.engine) for f in c.findings] == [("clock-without-factor", "A")]
    assert [s.row for s in c.set_aside] == [2, 3]


def test_a_part_that_breaks_the_engine_fails_with_it():
    c, _ = parts(
        [
            ("A", "2020-01-01", 0, "installed"),
            ("A", "2021-01-01", 310, "failed", {"cause": "turbocharger"}),
            ("A", "2021-02-01", None, "part-removed", turbo("T1")),
            ("A", "2021-02-01", None, "part-fitted", turbo("T2")),
            ("A", "2021-03-01", 310, "returned"),
            ("A", "2022-03-01", 500, "reading"),
        ]
    )
    assert lives(c) == [("T1", 0, 310, "failed", "A"), ("T2", 0, 190, "running", "A")]
    assert c.findings == ()


def test_places_are_lives_of_their_own():
    """Four cylinders named anywhere make four places in every engine."""
    rows = [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 310, "part-removed",
         {"component": "cylinder", "position": "3", "cause": "valve", "confirmed": True}),
        ("A", "2021-01-01", 310, "part-fitted", {"component": "cylinder", "position": "3",
                                                 "serial": "C9"}),
        ("B", "2020-01-01", 0, "installed"),
        ("B", "2021-01-01", 200, "part-removed",
         {"component": "cylinder", "position": "1", "cause": "valve", "confirmed": True}),
        ("B", "2022-01-01", 400, "reading"),
        ("A", "2022-01-01", 500, "reading"),
    ]  # fmt: skip
    c, _ = parts(rows, component="Cylinder")
    assert c.places == ("1", "3")
    assert lives(c) == [
        ("A cylinder 1", 0, 500, "running", "A"),
        ("A cylinder 3", 0, 310, "failed", "A"),
        ("B cylinder 1", 0, 200, "failed", "B"),
        ("B cylinder 3", 0, 400, "running", "B"),
        ("C9", 0, 190, "running", "A"),
    ]


def histories(rows, **kw):
    component = kw.pop("component", "")
    reading = Reading(file="log.csv", shape="log", events=log(*rows))
    return build_histories(
        Records(rows=(), readings=(reading,)), settings(**kw), component=component
    )


RECUR = [
    ("A", "2020-01-01", 0, "installed"),
    ("A", "2020-06-01", 120, "unscheduled", {"cost": 50.0}),
    ("A", "2021-01-01", 310, "part-removed", {"component": "cylinder", "position": "3",
                                              "cost": 100.0}),
    ("A", "2021-01-01", 310, "part-fitted", {"component": "cylinder", "position": "3",
                                             "serial": "C9", "cost": 900.0}),
    ("A", "2021-06-01", 400, "lost"),
    ("A", "2023-06-01", 700, "reading"),
    ("A", "2024-06-01", 750, "removed", {"cause": "planned overhaul"}),
    ("A", "2024-07-01", None, "overhauled"),
    ("A", "2024-08-01", 750, "returned"),
    ("A", "2024-09-01", 790, "finding"),
    ("A", "2025-06-01", 900, "reading"),
]  # fmt: skip


def test_events_recur_within_the_hours_watched():
    """Watched (0, 400], (700, 750], (750, 900]: 600 h; visit at 120, one cylinder at 310, one
    finding at 790. The planned removal is no trouble, the two rows of the cylinder are one."""
    born_with = ("A", "2020-01-01", 0, "part-fitted", {"component": "cylinder", "position": "1"})
    b = histories([RECUR[0], born_with, *RECUR[1:]])
    h = b.histories
    assert h.exposure_h == 600
    assert list(zip(h.event_h.tolist(), h.event_kind.tolist(), strict=True)) == [
        (120, "unscheduled"), (310, "part changed"), (790, "finding"),
    ]  # fmt: skip
    assert h.event_cost.tolist() == [50, 1000, 0]
    assert h.observed([400, 500, 720]).tolist() == [1, 0, 1]
    assert b.n_outside == 0
    assert histories(RECUR, component="cylinder").histories.event_h.tolist() == [310]


def test_since_overhaul_each_life_is_a_unit():
    h = histories(RECUR, basis="since-overhaul").histories
    assert h.event_h.tolist() == [120, 310, 40]
    assert len(set(h.unit.tolist())) == 2


def test_an_event_in_a_gap_is_told_and_not_counted():
    rows = [*RECUR[:5], ("A", "2022-01-01", None, "part-removed", {"component": "cylinder",
            "position": "1"}), *RECUR[5:]]  # fmt: skip
    rows[5] = ("A", "2022-01-01", 500, "part-removed", {"component": "cylinder", "position": "1"})
    b = histories(rows)
    assert b.n_outside == 1
    assert [f.code for f in b.findings] == ["log-event-outside"]
    assert histories([("A", "2020-01-01", 5, "reading")]).histories is None
