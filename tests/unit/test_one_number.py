"""A number that is printed twice is one number, or words say how the two differ.

Held on the shipped reports, where each of these once stood in two or three ways.
"""

from __future__ import annotations

import re

import pytest
from made_studies import DEMOS, STUDIES, document_of, results_of, table_of, texts_of

from fleetstats.core.units import text_hours, text_number
from fleetstats.document.words import say_value


@pytest.mark.parametrize("name", STUDIES)
def test_edges_of_the_reliability_are_the_same_in_each_place(name: str) -> None:
    results, document = results_of(name), document_of(name)
    v = results.advice.verdict
    if v is None:
        return
    target = 1.0 - v.accepted_failure
    rows = table_of(document, "estimates").rows
    (band,) = [str(r[2]) for r in rows if str(r[0]).startswith("reliability at")]
    found = dict(table_of(document, "claim-box").rows)["Found"]
    for x, edge, word in (
        (v.reliability.low, "low", "least"),
        (v.reliability.high, "high", "most"),
    ):
        if x is not None:
            text = say_value(x, "probability", target, edge=edge)
            assert text in band, (band, text)
            assert f"at {word} {text} (one-sided" in found


@pytest.mark.parametrize("name", STUDIES)
def test_the_target_life_has_one_lower_edge_or_words_for_the_other(name: str) -> None:
    results, document = results_of(name), document_of(name)
    life = results.advice.reliability.life
    if life is None or life.low is None:
        return
    rows = table_of(document, "estimates").rows
    (band,) = [str(r[2]) for r in rows if r[0] == life.name]
    assert band.startswith(text_hours(life.low))
    hidden = table_of(document, "hidden-scenarios")
    if hidden is not None:
        assert f"Beside {text_hours(life.low)} from the records" in hidden.see
    back = table_of(document, "looking-back")
    if back is not None:
        assert str(back.rows[-1][5]).startswith(text_hours(life.low))
    for key in ("routes-band", "bands-compared"):
        table = table_of(document, key)
        if table is None:
            continue
        if key == "routes-band":
            low = table.rows[0][1]
        else:
            low = next(str(r[1]) for r in table.rows if r[0] == life.name)
            low = low.split(" to ")[0].split(" (")[0]
        low = text_hours(low) if isinstance(low, float) else low
        if low is not None:
            told = f"The advice takes {text_hours(life.low)}" in table.see
            assert told == (low.split(", ")[0] != text_hours(life.low)), (key, low)


@pytest.mark.parametrize("name", STUDIES)
def test_two_shapes_are_told_apart_in_words(name: str) -> None:
    results, document = results_of(name), document_of(name)
    fit, shape = results.fit, results.advice.wear_out.shape
    if fit is None or shape is None or shape.estimate is None:
        return
    best, likely = text_number(shape.estimate), text_number(fit.shape)
    assert f"The Weibull shape is estimated at {best} " in results.advice.wear_out.sentence
    if best == likely:
        return
    for key in ("families", "routes"):
        assert "the greatest likelihood" in table_of(document, key).see
    settle = results.advice.wear_out.settle
    assert not settle or f"{likely} (that of the greatest likelihood)" in settle


@pytest.mark.parametrize("name", STUDIES)
def test_no_report_denies_an_estimate_that_it_prints(name: str) -> None:
    results = results_of(name)
    life = results.advice.reliability.life
    denied = "too few failures for an estimate" in results.advice.reliability.sentence
    assert not (denied and life is not None and life.estimate is not None)
    rows = table_of(document_of(name), "answers").rows
    (row,) = [r for r in rows if str(r[0]).startswith("Age that")]
    assert not (denied and re.search(r"\d", str(row[2])))
    chosen = results.advice.risk.chosen
    if "too few failures for an estimate" in results.advice.risk.sentence:
        assert chosen is not None
        assert chosen.age.estimate is None


@pytest.mark.parametrize("name", DEMOS)
def test_a_plan_names_its_shape_as_its_table_does(name: str) -> None:
    document = document_of(name)
    needs = table_of(document, "plan-needs")
    shapes = {str(f"{x:.0f}" if x == round(x) else text_number(x)) for x, *_ in needs.rows}
    said = [t for w, t in texts_of(document) if w == "plan"]
    named = re.findall(r"(?:least favourable shape|At shape) ([0-9.]+[0-9])", " ".join(said))
    assert set(named) <= shapes, (named, shapes)


def test_bench_says_one_distance() -> None:
    document = document_of("on-condition")
    (caution,) = [c for c in document.cautions if c.code == "bench-stress"]
    said = re.findall(r"([0-9.]+) widths", caution.value)
    told = [x for _, t in texts_of(document) for x in re.findall(r"([0-9.]+) widths of", t)]
    assert told
    assert set(said) == set(told)


def test_shapes_of_some_of_the_lives_are_said_to_be_theirs() -> None:
    for name in DEMOS:
        view = results_of(name).chapters.get("calendar")
        if view is not None and view.shape_hours is not None and "shape" in view.sentence:
            assert ("lives with dates" in view.sentence) == (view.n_undated > 0), name
