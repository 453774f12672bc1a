"""Failures of ids nearly alike are found by columns of letters as they are form by form.

Invented lives; what is asked form by form is the rule (no other source).
"""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st
from made_lives import life

from fleetstats.records.audit.audit_pairs import MAX_NEIGHBOURS, _alike, _may_be_one
from fleetstats.records.near_ids import slip_forms

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
