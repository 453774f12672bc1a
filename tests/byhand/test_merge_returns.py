"""Returns merged by hand: one engine from several senders, and what they disagree on."""

import datetime as dt

import pytest

from fleetstats.records.life import LifeRow
from fleetstats.records.merging.merge import merge_returns
from fleetstats.records.near_ids import one_slip
from fleetstats.records.rules import judge_ending
from fleetstats.study.pool_settings import MergeKeys, check_decisions
from fleetstats.study.settings import Settings, StudyKeys, TreatKeys
from fleetstats.vocabulary.finding import Origin

STUDY = StudyKeys(title="made up", analysis_date=dt.date(2026, 1, 1))


def settings(*, treat=None, **merge):
    return Settings(study=STUDY, treat=TreatKeys(actions=treat or {}), merge=MergeKeys(**merge))


def day(text):
    return dt.date.fromisoformat(text) if text else None


def row(source, number, engine, exit_h, ending, *, on="", entry=0.0, **more):
    """A life; `on` is the date of the last reading, or of the end."""
    file = source.replace(" ", "_") + ".csv"
    dates = {"last_reading" if ending in ("running", "lost") else "ended": day(on)}
    return LifeRow(
        origin=Origin(file=file, row=number), rows=(number,), source=source, engine=engine,
        entry_h=entry, exit_h=exit_h, ending=ending, **dates, **more,
    )  # fmt: skip


def merge(*rows, **kw):
    return merge_returns(tuple(rows), settings(**kw))


def told(m):
    return [(r.engine, r.entry_h, r.exit_h, r.ending) for r in m.rows]


def test_a_later_reading_extends_an_earlier_one():
    """Club A followed from new to 400 h; club B reads 650 h a year on: one life, (0, 650]."""
    m = merge(
        row("club A", 2, "E-01", 400, "running", on="2024-01-01", build="I"),
        row("club B", 5, "e 1", 650, "running", on="2025-01-01", entry=300),
    )
    assert told(m) == [("e 1", 0, 650, "running")]
    assert m.rows[0].build == "I"
    assert [(s.file, s.row, s.reason) for s in m.set_aside] == [("club_A.csv", 2, "merged")]
    assert m.trace[0].taken == (
        "entry 0 h from club_A.csv row 2",
        "exit 650 h from club_B.csv row 5, not 400 h",
        "build from club_A.csv row 2",
    )
    assert m.conflicts == ()
    assert m.findings == ()


def test_a_failure_known_to_one_ends_the_life_of_both():
    m = merge(
        row("club A", 2, "E-01", 400, "running", on="2024-01-01"),
        row("shop", 9, "E-01", 480, "failed", on="2024-06-01", entry=400, cause="gears"),
    )
    assert told(m) == [("E-01", 0, 480, "failed")]
    assert (m.n_events_before, m.n_events_after) == (1, 1)


def test_one_failure_told_by_owner_shop_and_club_is_one_event():
    """B8: 812, 815 and 820 h lie within 2 %, the dates within 60 days, the causes agree."""
    m = merge(
        row("owner", 2, "E-77", 812, "failed", on="2024-05-01"),
        row("shop", 3, "E-077", 815, "failed", on="2024-06-10", cause="gears", confirmed=True),
        row("club", 4, "E77", 820, "failed", on="2024-05-03", cause="Gears"),
        row("club", 5, "E-78", 900, "running", on="2025-01-01"),
    )
    assert (m.n_events_before, m.n_events_after) == (3, 1)
    event = next(r for r in m.rows if r.ending == "failed")
    assert (event.exit_h, event.confirmed, event.cause) == (815, True, "gears")
    assert len(m.pairs) == 2
    assert all(p.one_event and p.bits > 0 for p in m.pairs)
    assert sorted(s.reason for s in m.set_aside) == ["merged", "merged"]
    assert m.conflicts == ()


def test_a_failed_engine_that_another_return_still_flies_is_a_conflict():
    """Failed at 500 h, running at 700 h: proposed are both, the second from 500 h on."""
    rows = (
        row("shop", 2, "E-01", 500, "failed", on="2024-01-01"),
        row("club", 3, "E-01", 700, "running", on="2025-01-01"),
    )
    m = merge(*rows)
    assert [f.code for f in m.findings] == ["merge-conflict"]
    assert m.findings[0].action == "stop"
    point = m.conflicts[0].points[0]
    assert (point.field, point.first, point.second) == (
        "ending", "failed at 500 h on 2024-01-01", "running at 700 h on 2025-01-01",
    )  # fmt: skip
    assert told(merge(*rows, treat={"merge-conflict": "accept"})) == [
        ("E-01", 0, 500, "failed"), ("E-01", 500, 700, "running"),
    ]  # fmt: skip
    # set aside is the report without the failure; the failure stands
    m = merge(*rows, treat={"merge-conflict": "set-aside"})
    assert told(m) == [("E-01", 0, 500, "failed")]
    assert [(s.file, s.reason) for s in m.set_aside] == [("club.csv", "merge-conflict")]


@pytest.mark.parametrize(
    ("take", "left"),
    [
        ("proposed", [("E-01", 0, 500, "failed"), ("E-01", 500, 700, "running")]),
        ("club.csv row 3", [("E-01", 0, 700, "running")]),
        ("shop.csv row 2", [("E-01", 0, 500, "failed")]),
        ("separate", [("E-01 (shop)", 0, 500, "failed"), ("E-01 (club)", 0, 700, "running")]),
    ],
)
def test_the_study_accepts_or_overrules(take, left):
    m = merge(
        row("shop", 2, "E-01", 500, "failed", on="2024-01-01"),
        row("club", 3, "E-01", 700, "running", on="2025-01-01"),
        decisions=({"engine": "E 1", "take": take, "reason": "asked the owner"},),
    )
    assert told(m) == left
    assert m.findings == ()
    assert m.conflicts[0].decided == take
    assert m.conflicts[0].reason == "asked the owner"
    n_rows = sum(len(r.rows) for r in m.rows) + len(m.set_aside)
    assert n_rows == 2


def test_returns_in_conflict_without_a_failure_are_both_set_aside():
    m = merge(
        row("A", 2, "E-01", 900, "running", on="2024-01-01"),
        row("B", 3, "E-01", 700, "running", on="2025-01-01"),
        treat={"merge-conflict": "set-aside"},
    )
    assert told(m) == []
    assert {s.reason for s in m.set_aside} == {"merge-conflict"}


def lives(m):
    return [(r.life_start_h, r.entry_h, r.exit_h, r.ending) for r in m.rows]


def test_a_failure_before_an_overhaul_that_two_returns_put_4_h_apart_is_kept():
    """Club: failed at 1,641.0 h, overhauled, runs at 1,900 h. Shop: failed at 1,645.1 h,
    overhauled, runs at 1,850 h. One failure, and one life after it, of 1,900 - 1,645.1 h."""
    gears = {"cause": "gears", "confirmed": True}
    rows = (
        row("club", 2, "E-01", 1641.0, "failed", on="2020-01-01"),
        row("club", 3, "E-01", 259.0, "running", on="2025-01-01", life=1, life_start_h=1641.0),
        row("shop", 2, "E-01", 1645.1, "failed", on="2020-01-05", **gears),
        row("shop", 3, "E-01", 204.9, "running", on="2024-01-01", life=1, life_start_h=1645.1),
    )
    for treat in ({}, {"merge-conflict": "accept"}, {"merge-conflict": "set-aside"}):
        for told_in in (rows, rows[::-1]):
            m = merge(*told_in, treat=treat)
            assert m.conflicts == ()
            assert sorted(lives(m)) == [
                (0, 0, 1645.1, "failed"),
                (1645.1, 0, pytest.approx(254.9), "running"),
            ]
            assert (m.n_events_before, m.n_events_after) == (2, 1)


def test_overhauls_told_1_6_h_apart_begin_no_life_before_its_overhaul():
    """The later return of the second life puts the overhaul 1.6 h later than the other."""
    m = merge(
        row("club", 3, "E-01", 259.0, "running", on="2024-01-01", life=1, life_start_h=1641.0),
        row("shop", 3, "E-01", 300.0, "running", on="2025-01-01", life=1, life_start_h=1642.6),
    )
    assert lives(m) == [(1642.6, 0, 300.0, "running")]


def test_a_failure_told_by_a_return_that_does_not_know_of_the_overhaul_is_kept():
    """A: overhauled at 1,000 h, runs at 1,300 h. B: failed at 1,600 h since new."""
    m = merge(
        row("A", 2, "E-01", 1000, "planned-overhaul", on="2020-01-01"),
        row("A", 3, "E-01", 300, "running", on="2022-01-01", life=1, life_start_h=1000),
        row("B", 2, "E-01", 1600, "failed", on="2024-01-01", cause="gears"),
        treat={"merge-conflict": "accept"},
    )
    assert {p.field for c in m.conflicts for p in c.points} == {"ending", "overhaul"}
    assert sorted(lives(m)) == [(0, 0, 1000, "planned-overhaul"), (1000, 0, 600, "failed")]


def test_two_short_lives_are_matched_in_their_order():
    """Failed 5 h after the overhaul by one return, 5 h by the other, their overhauls 4 h apart:
    within the tolerance of 33 h every end could be every other."""
    m = merge(
        row("A", 2, "E-01", 1641, "failed"),
        row("A", 3, "E-01", 5, "failed", life=1, life_start_h=1641),
        row("B", 2, "E-01", 1645, "failed"),
        row("B", 3, "E-01", 5, "failed", life=1, life_start_h=1645),
    )
    assert m.n_events_after == 2
    assert len(m.trace) == 2


@pytest.mark.parametrize("start", [0.0, 500.0])
def test_what_one_return_tells_as_two_failures_never_becomes_one(start):
    """A: failed at 500 h and again 5 h on; B knows of one failure, at 505 h."""
    m = merge(
        row("A", 2, "E-01", 500, "failed"),
        row("A", 3, "E-01", 505 - start, "failed", entry=500 - start, life_start_h=start),
        row("B", 2, "E-01", 505, "failed"),
        treat={"merge-conflict": "accept"},
    )
    assert m.n_events_after == 2


@pytest.mark.parametrize(
    "other",
    [
        {"ending": "failed", "confirmed": False},
        {"ending": "failed", "cause": "prop strike"},
        {"ending": "removed", "confirmed": False, "cause": "sold"},
        {"ending": "planned-overhaul", "cause": "overhaul due"},
    ],
)
def test_a_failure_that_the_other_return_explains_away_stands_and_is_asked_about(other):
    """By the first return it is a failure in question; the second would take it out of it."""
    ending = other.pop("ending")
    rows = (
        row("A", 2, "E-01", 500, "failed", on="2024-01-01"),
        row("B", 3, "E-01", 503, ending, on="2024-01-03", **other),
    )
    for treat in ({}, {"merge-conflict": "accept"}, {"merge-conflict": "set-aside"}):
        m = merge(*rows, treat=treat)
        assert [judge_ending(r, settings()).counts_as for r in m.rows] == ["failure"]
        assert [f.code for f in m.findings] == ["merge-conflict"]
        assert m.conflicts[0].points
    assert merge(*rows).findings[0].action == "stop"


def test_each_point_of_disagreement_is_listed_side_by_side():
    m = merge(
        row("shop", 2, "E-01", 500, "removed-finding", on="2024-01-01", cause="valve",
            confirmed=False, build="I"),
        row("club", 3, "E-01", 505, "failed", on="2024-09-01", cause="gears", confirmed=True,
            build="II"),
    )  # fmt: skip
    points = {p.field: (p.first, p.second, p.proposed) for p in m.conflicts[0].points}
    assert points == {
        "date": ("2024-01-01", "2024-09-01", "one event, on 2024-09-01"),
        "ending": ("removed-finding", "failed", "failed"),
        "confirmed": ("no", "yes", "yes"),
        "cause": ("valve", "gears", "gears"),
        "build": ("I", "II", "II"),
    }


def test_fewer_hours_at_a_later_date_are_a_conflict_with_the_fewer_proposed():
    m = merge(
        row("A", 2, "E-01", 900, "running", on="2024-01-01"),
        row("B", 3, "E-01", 700, "running", on="2025-01-01"),
        treat={"merge-conflict": "accept"},
    )
    assert told(m) == [("E-01", 0, 700, "running")]
    assert m.conflicts[0].points[0].field == "hours"


def test_lives_that_do_not_touch_stay_two():
    m = merge(
        row("A", 2, "E-01", 500, "planned-overhaul"), row("B", 3, "E-01", 900, "running", entry=500)
    )
    assert len(m.rows) == 2
    assert m.trace == ()


def test_one_slip_of_the_pen_in_the_serial_is_shown_and_not_merged():
    """E-1234 and E-1243, 611 and 612 h, six days apart, same cause, among twelve engines."""
    rest = [row("A", 10 + i, f"E-20{i:02}", 100.0 * (i + 1), "failed", on=f"20{10 + i}-01-01",
                cause=("valve", "bearing", "rod")[i % 3]) for i in range(10)]  # fmt: skip
    twins = (
        row("A", 2, "E-1234", 611, "failed", on="2025-01-01", cause="gears"),
        row("B", 3, "E-1243", 612, "failed", on="2025-01-07", cause="gears"),
    )
    m = merge(*twins, *rest)
    assert m.n_events_after == 12
    assert [(p.engine, p.other_engine, p.one_event) for p in m.pairs] == [
        ("E-1234", "E-1243", False)
    ]
    m = merge(*twins, *rest, decisions=(
        {"engine": "E-1243", "take": "same as E-1234", "reason": "one letter from the shop"},
    ))  # fmt: skip
    assert m.n_events_after == 11
    assert m.pairs[0].one_event


def test_the_score_adds_up_by_hand():
    """Two engines in the records, so u(id) = 1/2: log2(0.95 / 0.5) = 0.926 bits for the id."""
    m = merge(
        row("A", 2, "E-1", 500, "failed"), row("B", 3, "E-1", 501, "failed"),
        row("B", 4, "E-2", 900, "failed"),
    )  # fmt: skip
    w = m.pairs[0].score.weights
    assert w["id"] == pytest.approx(0.92600, abs=1e-5)
    # Of three pairs of ends, one lies within 2 %: u = 1/3, log2(0.9 / (1/3)) = 1.433.
    assert w["hours"] == pytest.approx(1.43296, abs=1e-5)
    assert set(w) == {"id", "hours"}
    assert m.pairs[0].bits == pytest.approx(0.92600 + 1.43296, abs=1e-5)


def test_decisions_that_fit_nothing_are_told():
    rows = (
        row("shop", 2, "E-01", 500, "failed", on="2024-01-01"),
        row("club", 3, "E-01", 700, "running", on="2025-01-01"),
    )
    m = merge(*rows, decisions=({"engine": "E-9", "take": "proposed", "reason": "x"},))
    assert "merge-decision-unused" in [f.code for f in m.findings]
    m = merge(*rows, decisions=({"engine": "E-1", "take": "club.csv row 4", "reason": "x"},))
    assert "merge-decision-unknown" in [f.code for f in m.findings]


def test_decisions_are_checked_when_the_study_is_read():
    problems = []
    check_decisions(
        MergeKeys(decisions=({"engine": "E-1", "take": 3}, {"engine": "E-1", "tkae": "x"})),
        problems,
    )
    assert len(problems) == 6
    assert "merge.decisions[1].reason: is missing." in problems


def test_one_return_that_repeats_itself_is_left_to_the_audit():
    m = merge(row("A", 2, "E-1", 500, "failed"), row("A", 3, "E-1", 500, "failed"))
    assert len(m.rows) == 2


@pytest.mark.parametrize(
    ("a", "b", "near"),
    [
        ("E1234", "E1243", True), ("E1234", "E1235", True), ("E1234", "E12345", True),
        ("E1234", "E134", True), ("E1234", "E1234", False), ("E1234", "E4321", False),
        ("E1", "E2", False), ("E1234", "E2143", False),
    ],
)  # fmt: skip
def test_one_slip(a, b, near):
    assert one_slip(a, b) is near
    assert one_slip(b, a) is near
