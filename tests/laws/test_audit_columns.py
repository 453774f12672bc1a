"""Audit rules that look at columns first find what they find by looking at each life.

Invented lives; what is asked life by life, or form by form, is the rule (no other source).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from advice_fleets import made_settings
from hypothesis import given, settings
from hypothesis import strategies as st
from made_lives import DAY, life

from fleetstats.records.audit.audit_dates import audit_dates, odd_in_dates
from fleetstats.records.audit.audit_pairs import MAX_NEIGHBOURS, _alike, _may_be_one
from fleetstats.records.near_ids import slip_forms

DAYS = st.one_of(st.none(), st.integers(-900, 40).map(lambda n: DAY + dt.timedelta(days=n)))
HOURS = st.sampled_from([0.5, 24.0, 48.0, 100.0, 104.1, 124.0, 500.0, 1600.0, 20_000.0])


@st.composite
def dated_lives(draw: st.DrawFn) -> list:
    out = []
    for _ in range(draw(st.integers(0, 12))):
        days = {n: draw(DAYS) for n in ("in_service", "observed_from", "last_reading", "ended")}
        exit_h = draw(HOURS)
        coarse = {}
        if draw(st.booleans()):
            coarse = {n: (d - dt.timedelta(days=9), d) for n, d in days.items() if d is not None}
        out.append(
            life(
                exit_h=exit_h, entry_h=exit_h * draw(st.sampled_from([0.0, 0.5])), coarse=coarse,
                exit_low_h=draw(st.sampled_from([None, exit_h / 2])),
                ending=draw(st.sampled_from(["running", "failed"])), **days,
            )
        )  # fmt: skip
    return out


@settings(max_examples=100, deadline=None)
@given(lives=dated_lives(), dated=st.booleans())
def test_a_life_that_is_not_looked_at_has_no_finding_on_its_dates(lives: list, dated: bool) -> None:
    made = made_settings()
    asked = replace(made, study=replace(made.study, analysis_date=DAY if dated else None))
    looked_at = odd_in_dates(lives, asked)
    for i, x in enumerate(lives):
        assert i in looked_at or not list(audit_dates(x, asked)), x


def test_a_life_with_nothing_odd_is_not_looked_at() -> None:
    fair = life(exit_h=300.0, in_service=dt.date(2024, 1, 1), last_reading=dt.date(2025, 12, 1))
    assert odd_in_dates([fair, life()], made_settings()) == []


FAILED = st.builds(
    lambda engine, hours, cause: life(engine, hours, "failed", cause=cause),
    st.one_of(st.text("E01", max_size=5), st.sampled_from(["E-1234", "E1243", "e124", "E12345"])),
    st.sampled_from([500.0, 505.0, 510.0, 700.0]),
    st.sampled_from(["", "piston", "valve"]),
)


@settings(max_examples=100, deadline=None)
@given(lives=st.lists(FAILED, max_size=25))
def test_failures_nearly_alike_are_those_found_form_by_form(lives: list) -> None:
    lives = [replace(x, origin=replace(x.origin, row=k)) for k, x in enumerate(lives)]
    forms: dict[str, list[int]] = {}
    want = []
    for i, x in enumerate(lives):
        near: set[int] = set()
        for form in slip_forms(x.engine_id):
            near.update(forms.setdefault(form, [])[-MAX_NEIGHBOURS:])
            forms[form].append(i)
        want += [(i, (str(lives[k].origin),)) for k in sorted(near) if _may_be_one(lives[k], x)]
    assert [(i, f.related) for f, i in _alike(lives)] == want
