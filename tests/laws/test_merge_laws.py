"""What holds of every merging of returns, whatever they tell: no failure in question is lost."""

import datetime as dt
from collections import Counter
from dataclasses import replace

from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from fleetstats.records.audit.audit_pairs import audit_pairs
from fleetstats.records.life import LifeRow
from fleetstats.records.merging.alike import alike_h
from fleetstats.records.merging.matching import sender
from fleetstats.records.merging.merge import merge_returns
from fleetstats.records.rules import judge_ending
from fleetstats.spells.build import spells_of
from fleetstats.study.pool_settings import MergeKeys
from fleetstats.study.settings import QuestionKeys, Settings, StudyKeys, TreatKeys
from fleetstats.vocabulary.finding import Origin

MANY = hypothesis_settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
DAY = dt.date(2026, 1, 1)
ENDS = ("failed", "failed", "found-at-check", "removed-finding", "removed", "planned-overhaul")
SPELT = ("K6-0274", "K6 0274", "k6-274")


def study(level="confirmed-removal", treat="", basis="since-overhaul", **merge):
    return Settings(
        study=StudyKeys(title="made up", analysis_date=DAY),
        question=QuestionKeys(level=level),
        merge=MergeKeys(**merge),
        treat=TreatKeys(actions={"merge-conflict": treat} if treat else {}),
    )


studies = st.builds(
    study,
    st.sampled_from(["confirmed-removal", "beyond-limits", "power-loss"]),
    st.sampled_from(["", "accept", "set-aside"]),
    hours_alike=st.sampled_from([0.0, 0.02, 0.02, 0.2]),
)


@st.composite
def histories(draw):
    """What happened to one engine: the ends of its lives since new, how each ended, gaps."""
    lengths = draw(st.lists(st.sampled_from([3.0, 30.0, 400.0, 900.0, 1641.0]), min_size=1,
                            max_size=4))  # fmt: skip
    ends, at = [], 0.0
    for x in lengths:
        at += x * draw(st.floats(0.5, 1.5))
        ends.append((at, draw(st.sampled_from(ENDS))))
    return ends, draw(st.sampled_from(["since-new", "since-overhaul"]))


@st.composite
def returns(draw, history, number):
    """One sender's report of it: hours off a little or much, lives and ends it does not know."""
    ends, basis = history
    off = draw(st.sampled_from([0.0, 0.8, 1.6, 4.0, 30.0]))
    rows, start = [], 0.0
    for at, ending in ends:
        told = max(at + draw(st.floats(-off, off)), start + 0.2)
        how = draw(st.sampled_from(["told", "told", "told", "unknown end", "missing", "other end"]))
        if how == "unknown end":
            continue  # goes on as if nothing had been; the next end is told of a longer life
        if how == "other end":
            ending = draw(st.sampled_from(ENDS))
        entry = draw(st.sampled_from([0.0, 0.0, 0.5])) * (told - start)
        zero = start if basis == "since-overhaul" else 0.0
        n = len(rows) + 2
        if how != "missing":
            rows.append(
                LifeRow(
                    origin=Origin(file=f"{number}.csv", row=n), rows=(n,), source=f"{number}",
                    engine=SPELT[number], entry_h=start - zero + entry, exit_h=told - zero,
                    life_start_h=zero, life=len(rows), ending=ending,
                    cause=draw(st.sampled_from(["", "gears", "prop strike", "overhaul due"])),
                    confirmed=draw(st.sampled_from([None, True, False])),
                    last_good_h=draw(st.sampled_from([None, told - zero])),
                    modified_h=draw(st.sampled_from([None, None, start - zero + 1.0])),
                    found_at_teardown=draw(st.sampled_from([None, None, True])),
                )
            )  # fmt: skip
        start = told
    if rows and draw(st.booleans()):
        last = replace(rows[-1], ending="running", cause="", confirmed=None, found_at_teardown=None)
        rows[-1] = last
    return rows


@st.composite
def told_by_several(draw):
    history = draw(histories())
    n = draw(st.integers(2, 3))
    return [draw(returns(history, i)) for i in range(n)]


def failures(rows, s):
    return sum(1 for r in rows if judge_ending(r, s).counts_as == "failure")


@MANY
@given(told_by_several(), studies)
def test_merged_failures_are_at_least_the_most_that_one_return_tells(told, s):
    rows = tuple(r for one in told for r in one)
    m = merge_returns(rows, s)
    assert failures(m.rows, s) >= max(failures(one, s) for one in told)
    account = Counter((r.origin.file, k) for r in m.rows for k in r.rows)
    account.update((a.file, a.row) for a in m.set_aside)
    assert account == Counter((r.origin.file, k) for r in rows for k in r.rows)


@MANY
@given(told_by_several(), studies)
def test_lives_of_an_engine_merged_share_no_hours_and_have_spells(told, s):
    """Each return tells its lives one after the other, so what is merged of them does too."""
    m = merge_returns(tuple(r for one in told for r in one), s)
    overlaps = [f for f, _ in audit_pairs(m.rows) if f.code == "duplicate-life"]
    assert overlaps == []
    spells = spells_of(m.rows, tuple(judge_ending(r, s) for r in m.rows), s)
    assert len(spells) == len(m.rows)


@MANY
@given(told_by_several(), studies, st.randoms(use_true_random=False))
def test_the_order_of_rows_changes_no_failure(told, s, random):
    rows = [r for one in told for r in one]
    one = merge_returns(tuple(rows), s)
    random.shuffle(rows)
    other = merge_returns(tuple(rows), s)
    assert sorted(map(repr, one.rows)) == sorted(map(repr, other.rows))


@MANY
@given(st.lists(st.tuples(st.sampled_from([200.0, 900.0, 1641.0]), st.booleans()), min_size=1,
                max_size=4), st.integers(0, 2**32 - 1))  # fmt: skip
def test_two_whole_returns_within_the_tolerance_tell_what_one_tells(lives, seed):
    """Both know each end, hours differ within the tolerance: as many lives and failures as each
    tells, and no conflict. An event is never two."""
    import random

    draw = random.Random(seed)
    s = study()
    both = []
    at = [0.0, 0.0]
    ends = [0.0, 0.0]
    rows = ([], [])
    for length, failed in lives:
        ends = [at[0] + length, 0.0]
        reach = 0.02 * ends[0] * 0.95
        ends[1] = max(ends[0] + draw.uniform(-reach, reach), at[1] + 0.6 * length)
        if not alike_h(ends[0], ends[1], s.merge):
            return
        for i in (0, 1):
            n = len(rows[i]) + 2
            rows[i].append(
                LifeRow(
                    origin=Origin(file=f"{i}.csv", row=n), rows=(n,), source=f"{i}", engine="E-1",
                    exit_h=ends[i] - at[i], life_start_h=at[i], life=len(rows[i]),
                    ending="failed" if failed else "planned-overhaul",
                )
            )  # fmt: skip
            at[i] = ends[i]
    both = (*rows[0], *rows[1])
    m = merge_returns(both, s)
    assert m.conflicts == ()
    assert len({sender(r) for r in both}) == 2
    assert len(m.rows) == len(lives)
    assert failures(m.rows, s) == sum(f for _, f in lives)


def test_a_short_life_whose_overhaul_was_told_early_is_not_the_life_before_it():
    """Three returns of one engine: the second put the last overhaul 2 h later than the others."""
    told = {
        0: ((0.0, 3.0), (531.0, 3.0)),
        1: ((0.0, 3.0), (8.0, 525.0), (533.0, 1.0)),
        2: ((0.0, 3.0), (3.0, 3.0), (6.0, 525.0), (531.0, 3.0)),
    }
    rows = tuple(
        LifeRow(
            origin=Origin(file=f"{k}.csv", row=i + 2), rows=(i + 2,), source=f"{k}",
            engine=SPELT[k], exit_h=exit_h, life_start_h=start_h, life=i, ending="failed",
        )
        for k, lives in told.items()
        for i, (start_h, exit_h) in enumerate(lives)
    )  # fmt: skip
    merged = sorted((r.life_start_h + r.entry_h, r.life_start_h + r.exit_h)
                    for r in merge_returns(rows, study()).rows)  # fmt: skip
    assert merged == [(0.0, 3.0), (3.0, 6.0), (8.0, 533.0), (533.0, 534.0)]
