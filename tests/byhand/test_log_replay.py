"""Logs replayed by hand: each small log's lives, and each malformed log's finding."""

import datetime as dt
import re

import pytest

from fleetstats.records.audit.audit_dates import audit_dates
from fleetstats.records.log.log import replay_log
from fleetstats.records.log_event import LogEvent
from fleetstats.study.settings import HoursKeys, QuestionKeys, Settings, StudyKeys, TreatKeys
from fleetstats.vocabulary.events import kind_of
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.findings import LOG_FINDINGS

STUDY = StudyKeys(title="made up", analysis_date=dt.date(2026, 1, 1))


def settings(*, level="confirmed-removal", treat=None, **hours):
    return Settings(
        study=STUDY,
        hours=HoursKeys(**hours),
        question=QuestionKeys(level=level),
        treat=TreatKeys(actions=treat or {}),
    )


def log(*rows):
    """Rows are (engine, date, hours, kind, other fields)."""
    out = []
    for i, (engine, day, hours, kind, *rest) in enumerate(rows):
        out.append(
            LogEvent(
                origin=Origin(file="log.csv", row=i + 2),
                engine=engine,
                date=dt.date.fromisoformat(day) if day else None,
                hours=hours,
                kind=kind,
                **(rest[0] if rest else {}),
            )
        )
    return tuple(out)


def lives(replay):
    return [(r.entry_h, r.exit_h, r.ending) for r in replay.rows]


def adds_up(replay):
    used = [n for r in replay.rows for n in r.rows]
    aside = [s.row for s in replay.set_aside]
    assert sorted(used + aside) == sorted(range(2, replay.n_read + 2))
    return True


WHOLE = log(
    ("A", "2020-01-01", 0, "installed", {"build": "I"}),
    ("A", "2020-06-01", 100, "check"),
    ("A", "2021-01-01", 300, "check"),
    ("A", "2021-02-01", 340, "finding", {"confirmed": True, "cause": "valve"}),
    ("A", "2021-02-01", 340, "removed"),
    ("A", "2021-03-01", None, "overhauled"),
    ("A", "2021-03-05", 342, "returned"),
    ("A", "2022-03-05", 600, "modified", {"build": "II"}),
    ("A", "2023-03-05", 800, "reading"),
)


def test_one_engine_through_a_finding_an_overhaul_and_a_modification():
    """Hours since new 0-340 (fault after the clean check at 300), 342-600 in build I, then II."""
    r = replay_log(WHOLE, settings())
    assert lives(r) == [
        (0, 340, "found-at-check"),
        (342, 600, "modified"),
        (600, 800, "running"),
    ]
    assert [x.last_good_h for x in r.rows] == [300, None, None]
    assert [x.build for x in r.rows] == ["I", "I", "II"]
    assert [x.life for x in r.rows] == [0, 1, 1]
    assert r.rows[0].confirmed is True
    assert r.rows[0].cause == "valve"
    assert r.findings == ()
    assert adds_up(r)


def test_since_overhaul_the_clock_restarts():
    """The overhaul stands at 340 h: 342 is 2 h, 600 is 260 h, 800 is 460 h since overhaul."""
    r = replay_log(WHOLE, settings(basis="since-overhaul"))
    assert lives(r) == [
        (0, 340, "found-at-check"),
        (2, 260, "modified"),
        (260, 460, "running"),
    ]
    assert [x.life_start_h for x in r.rows] == [0, 340, 340]


def test_a_meter_that_restarts_at_overhaul_gives_the_same_lives():
    """The same engine, its hours written since overhaul: 2, 260, 460 in place of 342, 600, 800."""
    rows = list(WHOLE)
    for i, hours in ((6, 2.0), (7, 260.0), (8, 460.0)):
        e = rows[i]
        rows[i] = LogEvent(
            origin=e.origin, engine=e.engine, kind=e.kind, hours=hours, date=e.date, build=e.build
        )
    r = replay_log(tuple(rows), settings(log_hours="since-overhaul"))
    assert lives(r) == lives(replay_log(WHOLE, settings()))
    assert r.findings == ()


def test_overhaul_without_removal_ends_a_life_as_planned():
    r = replay_log(
        log(
            ("A", "2020-01-01", 0, "installed"),
            ("A", "2024-01-01", 1200, "overhauled"),
            ("A", "2024-09-01", 1400, "reading"),
        ),
        settings(basis="since-overhaul"),
    )
    assert lives(r) == [(0, 1200, "planned-overhaul"), (0, 200, "running")]
    assert [f.code for f in r.findings] == ["log-return-not-written"]
    assert adds_up(r)


def test_an_engine_first_seen_at_600_h_enters_there():
    r = replay_log(
        log(("A", "2020-01-01", 600, "reading"), ("A", "2021-01-01", 900, "reading")), settings()
    )
    assert lives(r) == [(600, 900, "running")]


def test_since_overhaul_hours_at_entry_set_the_clock_and_leave_the_life_number_open():
    r = replay_log(
        log(
            ("A", "2020-01-01", 1800, "reading", {"since_overhaul_h": 600.0}),
            ("A", "2021-01-01", 1900, "failed", {"cause": "gears"}),
        ),
        settings(basis="since-overhaul"),
    )
    assert lives(r) == [(600, 700, "failed")]
    assert r.rows[0].life == -1
    assert r.findings == ()


def test_a_gap_in_the_records_is_not_exposure():
    """Lost at 400 h, seen again at 700 h: a failure between would not have come back to us."""
    r = replay_log(
        log(
            ("A", "2020-01-01", 0, "installed"),
            ("A", "2021-01-01", 400, "lost"),
            ("A", "2023-01-01", 700, "reading"),
            ("A", "2024-01-01", 850, "reading"),
        ),
        settings(),
    )
    assert lives(r) == [(0, 400, "lost"), (700, 850, "running")]
    assert adds_up(r)


def test_the_date_of_earlier_hours_is_never_given_to_later_ones():
    """300 h read on no known day: neither the installation's day nor any other is theirs."""
    plain = (("A", "2020-01-01", 0, "installed"), ("A", "", 300, "reading"))
    (life,) = replay_log(log(*plain), settings()).rows
    assert (life.exit_h, life.observed_from, life.last_reading) == (300, dt.date(2020, 1, 1), None)
    (life,) = replay_log(log(*plain[:1], ("A", "", 400, "failed")), settings()).rows
    assert (life.ending, life.exit_h, life.ended) == ("failed", 400, None)
    # a note without hours, or with the same ones, takes no date away
    dated = (("A", "2020-01-01", 0, "installed"), ("A", "2021-01-01", 300, "reading"))
    for same in (None, 300):
        (life,) = replay_log(log(*dated, ("A", "", same, "check")), settings()).rows
        assert life.last_reading == dt.date(2021, 1, 1)


def test_a_new_meter_does_not_stop_the_clock():
    """Meter changed at 500 h for one that shows 20: 120 on it is 600 h since new."""
    r = replay_log(
        log(
            ("A", "2020-01-01", 0, "installed"),
            ("A", "2021-01-01", 500, "meter-changed", {"new_reading_h": 20.0}),
            ("A", "2022-01-01", 120, "reading"),
        ),
        settings(),
    )
    assert lives(r) == [(0, 600, "running")]


@pytest.mark.parametrize(("found", "good"), [(True, None), (False, None)])
def test_a_teardown_after_a_planned_removal_is_an_inspection(found, good):
    r = replay_log(
        log(
            ("A", "2020-01-01", 0, "installed"),
            ("A", "2023-01-01", 1200, "removed", {"cause": "planned overhaul"}),
            ("A", "2023-02-01", None, "teardown", {"confirmed": found, "cause": "crack"}),
        ),
        settings(),
    )
    assert lives(r) == [(0, 1200, "planned-overhaul")]
    assert r.rows[0].found_at_teardown is found
    assert r.rows[0].cause == ("crack" if found else "planned overhaul")


def test_a_finding_ends_the_life_only_at_the_level_that_counts_it():
    rows = log(
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 250, "check"),
        ("A", "2021-02-01", 300, "check"),
        ("A", "2021-02-01", 300, "finding", {"confirmed": True, "cause": "cylinder"}),
        ("A", "2022-01-01", 500, "reading"),
    )
    assert lives(replay_log(rows, settings())) == [(0, 500, "running")]
    r = replay_log(rows, settings(level="beyond-limits"))
    assert lives(r) == [(0, 300, "found-at-check"), (300, 500, "running")]
    assert r.rows[0].last_good_h == 250
    assert adds_up(r)


def test_newest_first_and_shuffled_files_replay_alike():
    want = lives(replay_log(WHOLE, settings()))
    assert lives(replay_log(WHOLE[::-1], settings())) == want
    shuffled = (WHOLE[8], WHOLE[0], *WHOLE[2:8], WHOLE[1])
    assert lives(replay_log(shuffled, settings())) == want


def test_since_new_hours_given_later_move_the_earlier_ones():
    """Hours since overhaul 0 to 300, then "since new 1,800": the life began at 1,500 h."""
    r = replay_log(
        log(
            ("A", "2020-01-01", None, "overhauled", {"since_overhaul_h": 0.0}),
            ("A", "2020-01-02", 0, "returned"),
            ("A", "2021-01-01", 300, "reading", {"since_new_h": 1800.0}),
        ),
        settings(log_hours="since-overhaul"),
    )
    assert lives(r)[-1] == (1500, 1800, "running")


@pytest.mark.parametrize(
    ("cause", "confirmed", "level", "ending"),
    [
        ("crankshaft", True, "confirmed-removal", "failed"),
        ("crankshaft", True, "power-loss", "removed-finding"),
        ("crankshaft", None, "confirmed-removal", "removed-finding"),
        ("crankshaft", False, "confirmed-removal", "removed"),
        ("prop strike", True, "confirmed-removal", "removed"),
        ("Planned overhaul", None, "confirmed-removal", "planned-overhaul"),
        ("", None, "confirmed-removal", "removed"),
        ("", True, "confirmed-removal", "failed"),
    ],
)
def test_a_removal_means_what_its_cause_and_the_shop_say(cause, confirmed, level, ending):
    rows = log(
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-02-01", 300, "removed", {"cause": cause, "confirmed": confirmed}),
    )
    assert lives(replay_log(rows, settings(level=level))) == [(0, 300, ending)]


@pytest.mark.parametrize(
    ("cause", "found", "ending", "confirmed"),
    [
        ("metal in the filter", True, "failed", True),
        ("metal in the filter", False, "removed", False),
        ("", True, "failed", True),
        ("prop strike", True, "removed", True),
    ],
)
def test_the_shop_settles_what_a_removal_left_open(cause, found, ending, confirmed):
    rows = log(
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-02-01", 300, "removed", {"cause": cause}),
        ("A", "2021-03-01", None, "teardown", {"confirmed": found, "cause": "bearing"}),
    )
    r = replay_log(rows, settings())
    assert lives(r) == [(0, 300, ending)]
    assert r.rows[0].confirmed is confirmed
    assert r.rows[0].found_at_teardown is found


MALFORMED = {
    "log-before-installation": [
        ("A", "2020-01-01", 50, "reading"),
        ("A", "2020-02-01", 0, "installed"),
        ("A", "2021-02-01", 300, "reading"),
    ],
    "log-installed-twice": [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 200, "installed"),
        ("A", "2022-01-01", 300, "reading"),
    ],
    "log-removed-twice": [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 200, "removed"),
        ("A", "2022-01-01", 200, "removed"),
    ],
    "log-failed-while-removed": [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 200, "removed"),
        ("A", "2022-01-01", 210, "failed"),
    ],
    "log-hours-while-removed": [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 200, "removed"),
        ("A", "2022-01-01", 290, "reading"),
        ("A", "2023-01-01", 390, "reading"),
    ],
    "log-overhaul-runs-on": [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 700, "removed"),
        ("A", "2021-03-01", 760, "overhauled"),
    ],
    "log-hours-backwards": [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 812, "reading"),
        ("A", "2022-01-01", 790, "reading"),
    ],
    "log-hours-missing": [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 812, "reading"),
        ("A", "2022-01-01", None, "failed"),
    ],
    "log-after-retirement": [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 812, "retired"),
        ("A", "2022-01-01", 900, "reading"),
    ],
    "log-too-fast": [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2020-01-03", 812, "reading"),
    ],
    "log-failure-without-exposure": [
        ("A", "2020-01-01", 812, "failed"),
        ("B", "2020-01-01", 0, "installed"),
        ("B", "2021-01-01", 100, "reading"),
    ],
    "log-teardown-alone": [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 300, "teardown", {"confirmed": True}),
        ("A", "2021-02-01", 310, "reading"),
    ],
    "log-teardown-unclear": [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 300, "removed"),
        ("A", "2021-02-01", None, "teardown"),
    ],
    "log-gap": [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 300, "removed"),
        ("A", "2022-01-01", 400, "returned"),
        ("A", "2023-01-01", 500, "reading"),
    ],
    "log-build-missing": [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 300, "modified"),
        ("A", "2022-01-01", 400, "reading"),
    ],
    "log-build-changed": [
        ("A", "2020-01-01", 0, "installed", {"build": "I"}),
        ("A", "2021-01-01", 300, "reading", {"build": "II"}),
    ],
    "log-clocks-disagree": [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 300, "reading", {"since_new_h": 420.0}),
    ],
    "log-removal-unexplained": [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 300, "removed"),
    ],
    "log-no-exposure": [("A", "2020-01-01", 640, "reading")],
}


@pytest.mark.parametrize("treat", [None, "accept", "set-aside"])
@pytest.mark.parametrize("code", MALFORMED)
def test_every_malformed_log_gives_its_finding(code, treat):
    actions = {} if treat is None else {code: treat}
    r = replay_log(log(*MALFORMED[code]), settings(treat=actions))
    assert code in [f.code for f in r.findings]
    finding = next(f for f in r.findings if f.code == code)
    assert finding.file == "log.csv"
    assert finding.row is not None
    assert finding.engine == "A"
    assert finding.message
    assert finding.advice
    assert finding.action == (treat or ("stop" if finding.severity == "error" else "accept"))
    assert adds_up(r)
    if treat == "set-aside":
        # The row itself goes, or, where each row is possible by itself, the whole engine.
        gone = {x.row for x in r.set_aside}
        assert finding.row in gone
        assert finding.row not in {n for x in r.rows for n in x.rows}


@pytest.mark.parametrize("code", LOG_FINDINGS)
def test_advice_names_only_columns_that_are_read(code):
    """A column spelt as the advice spells it must not end among those not used."""
    named = set(
        re.findall(r"since_(?:new|overhaul)\w*", " ".join(LOG_FINDINGS[code].cure.values()))
    )
    assert named <= {f.name for f in LOG_FIELDS}


def test_clocks_that_disagree_are_named_as_the_file_names_them():
    r = replay_log(log(*MALFORMED["log-clocks-disagree"]), settings())
    (found,) = (f for f in r.findings if f.code == "log-clocks-disagree")
    assert (found.column, "since_new_hours is 420" in found.message) == ("since_new_hours", True)


def test_hours_that_restart_at_an_overhaul_are_told_which_setting_is_meant():
    """The overhaul is entered; to ask for it again would help nobody."""
    rows = [
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2022-01-01", 1190, "removed"),
        ("A", "2022-02-01", None, "overhauled"),
        ("A", "2022-02-05", 0, "returned"),
        ("A", "2022-06-05", 50, "reading"),
    ]
    r = replay_log(log(*rows), settings())
    assert {f.code for f in r.findings} == {"log-hours-backwards"}
    assert all('log_hours = "since-overhaul"' in f.message for f in r.findings)
    r = replay_log(log(*rows), settings(log_hours="since-overhaul"))
    assert r.findings == ()


def test_setting_a_doubtful_row_aside_keeps_the_engine():
    """Leaving out each engine that someone told of twice would leave out those that failed."""
    r = replay_log(
        log(*MALFORMED["log-removed-twice"]), settings(treat={"log-removed-twice": "set-aside"})
    )
    assert lives(r) == [(0, 200, "removed")]
    assert [s.row for s in r.set_aside] == [4]


def test_one_failure_told_twice_in_one_log_is_one_event():
    """B8 within a log: the owner on the day, the shop three weeks later with 2 h more."""
    r = replay_log(
        log(
            ("A", "2020-01-01", 0, "installed", {"source": "owner"}),
            ("A", "2021-01-01", 500, "failed", {"source": "owner"}),
            ("A", "2021-01-22", 502, "failed", {"source": "shop", "cause": "gears",
                                                 "confirmed": True}),
        ),
        settings(),
    )  # fmt: skip
    assert lives(r) == [(0, 500, "failed")]
    assert (r.rows[0].cause, r.rows[0].confirmed) == ("gears", True)
    assert [f.code for f in r.findings] == ["log-event-twice"]
    assert adds_up(r)


def test_a_log_since_overhaul_whose_hours_run_on_is_found():
    """Hours since overhaul must restart: 1,190, overhauled, then 1,240 cannot be."""
    r = replay_log(
        log(
            ("A", "2020-01-01", 0, "installed"),
            ("A", "2022-01-01", 1190, "removed"),
            ("A", "2022-02-01", None, "overhauled"),
            ("A", "2022-02-05", 1190, "returned"),
            ("A", "2022-06-05", 1240, "reading"),
        ),
        settings(log_hours="since-overhaul"),
    )
    assert [f.code for f in r.findings] == ["log-overhaul-runs-on"]
    assert adds_up(r)


def test_hours_since_new_must_be_known_for_lives_since_new():
    rows = log(("A", "2020-01-01", 200, "reading"), ("A", "2021-01-01", 400, "reading"))
    r = replay_log(rows, settings(log_hours="since-overhaul"))
    assert [f.code for f in r.findings] == ["log-since-new-unknown"]
    r = replay_log(rows, settings(log_hours="since-overhaul", basis="since-overhaul"))
    assert lives(r) == [(200, 400, "running")]
    assert r.findings == ()


def test_hours_between_removal_and_return_are_never_counted():
    r = replay_log(
        log(*MALFORMED["log-hours-while-removed"]),
        settings(treat={"log-hours-while-removed": "accept"}),
    )
    assert lives(r) == [(0, 200, "removed"), (290, 390, "running")]


@pytest.mark.parametrize(
    ("word", "kind"),
    [
        ("Installed", "installed"),
        ("part_fitted", "part-fitted"),
        ("Return to service", "returned"),
        ("TOP OVERHAUL", "top-overhaul"),
        ("", None),
        ("eaten by goats", None),
    ],
)
def test_words_for_events(word, kind):
    assert kind_of(word) == kind


def codes_of(*rows, **hours):
    return [f.code for f in replay_log(log(*rows), settings(**hours)).findings]


@pytest.mark.parametrize(("beside", "said"), [(502.0, False), (502.1, True)])
def test_clocks_beside_the_meter_may_differ_by_two_hours(beside, said):
    rows = (
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2021-01-01", 500, "check", {"since_new_h": beside}),
    )
    assert ("log-clocks-disagree" in codes_of(*rows)) is said


@pytest.mark.parametrize(("shop_h", "said"), [(5.0, False), (5.3, True)])
def test_an_engine_may_run_five_hours_in_the_shop(shop_h, said):
    """The reading at the overhaul is already that of the new life; above 5 h it is none."""
    rows = (
        ("A", "2020-01-01", 0, "installed"),
        ("A", "2022-01-01", 1190, "removed"),
        ("A", "2022-02-01", shop_h, "overhauled"),
    )
    assert bool(codes_of(*rows, log_hours="since-overhaul")) is said


RETURN_UNWRITTEN = [
    ("A", "2010-01-01", 0, "installed"),
    ("A", "2012-01-01", 300, "reading"),
    ("A", "2015-06-28", 358, "overhauled"),
    ("A", "2016-01-14", 508, "reading"),
]


@pytest.mark.parametrize(
    ("basis", "zero"), [("since-new", "2010-01-01"), ("since-overhaul", "2015-06-28")]
)
def test_the_day_of_a_clock_s_zero_is_that_of_the_clock_and_no_reading_s(basis, zero):
    # Counted by hand: 150 h flown in the 200 days after the overhaul, 508 h in six years.
    r = replay_log(log(*RETURN_UNWRITTEN), settings(basis=basis))
    assert r.rows[-1].in_service == dt.date.fromisoformat(zero)
    assert r.rows[-1].observed_from == dt.date(2015, 6, 28)
    assert not [f for x in r.rows for f in audit_dates(x, settings(basis=basis))
                if f.code in ("hours-exceed-calendar", "use-implausible")]  # fmt: skip


def test_a_return_unwritten_after_an_overhaul_without_a_date_has_no_day_of_zero():
    rows = [(*r[:1], None if r[3] == "overhauled" else r[1], *r[2:]) for r in RETURN_UNWRITTEN]
    r = replay_log(log(*rows), settings(basis="since-overhaul"))
    assert r.rows[-1].in_service is None
