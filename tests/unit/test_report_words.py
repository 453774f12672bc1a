"""Sentences from numbers: sides named, bounds rounded carefully, missing edges said."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_document import make_document

from fleetstats.advice.advice import VERDICTS, Edge, OverhaulBand, Verdict
from fleetstats.bands.interval import Interval
from fleetstats.chapters.answer.words import in_so_many, say_band, say_verdict
from fleetstats.core.errors import ReportError
from fleetstats.core.units import side_of
from fleetstats.document.blocks import interval_row
from fleetstats.document.document import TONES
from fleetstats.document.glossary import ALWAYS, explain, glossary_terms
from fleetstats.document.words import (
    FORBIDDEN,
    TONE_LABELS,
    VERDICT_TEXT,
    check_tone,
    say_agreement,
    say_confidence,
    say_interval,
    say_range,
    verdict_face,
)


def interval(low: float | None, middle: float | None, high: float | None, unit: str = "h",
             **notes: str) -> Interval:  # fmt: skip
    return Interval(name="x", estimate=middle, low=low, high=high, level=0.90, method="profile",
                    unit=unit, **notes)  # fmt: skip


def test_an_interval_names_confidence_and_side_of_each_edge() -> None:
    text = say_interval(interval(1420.0, 1850.0, 2600.0))
    assert text == (
        "best estimate 1,850 h; at least 1,420 h (one-sided 95 % lower); at most 2,600 h "
        "(one-sided 95 % upper)"
    )


def test_a_missing_edge_is_said_with_its_reason_and_never_as_a_number() -> None:
    text = say_interval(interval(900.0, None, None, note_high="nothing failed."))
    assert "no upper limit from these data (nothing failed)" in text
    assert "best estimate" not in text
    assert say_range(interval(None, 5.0, None)) == "no limits from these data"
    assert say_range(interval(900.0, None, None)) == "900 h, no upper limit"
    assert say_range(interval(None, None, 900.0)) == "no lower limit, up to 900 h"


def test_hours_beyond_the_evidence_are_marked_edge_by_edge() -> None:
    band = interval(900.0, 1300.0, 2600.0)
    assert say_range(band, supported_to_h=1200.0) == "900 h to 2,600 h (extrapolated)"
    assert interval_row(band, supported_to_h=1200.0)[1] == "1,300 h (extrapolated)"
    only = interval(1628.0, None, None)
    assert say_range(only, supported_to_h=1500.0) == "1,628 h (extrapolated), no upper limit"
    assert say_range(interval(None, None, 900.0), supported_to_h=900.0).endswith("900 h")
    # a chance is no age: its own hours say whether it is extrapolated
    chance = interval(0.8, 0.9, 0.95, "probability")
    assert "extrapolated" not in say_range(chance, supported_to_h=0.1)


def test_bounds_of_chances_are_rounded_to_the_careful_side() -> None:
    text = say_interval(interval(0.8249, 0.87, 0.9121, "probability"))
    assert "at least 82 %" in text
    assert "at most 91.3 %" in text or "at most 92 %" in text


@given(st.floats(0.0, 1.0), st.sampled_from([0.1, 0.05, 0.025, 0.125]), st.booleans())
def test_engines_in_a_hundred_never_promise_more(p: float, accepted: float, up: bool) -> None:
    bound, limit = in_so_many(p, accepted, up=up)
    n, whole = (int(x.replace(",", "")) for x in bound.split(" in "))
    assert n >= whole * p - 1e-6 * whole if up else n <= whole * p + 1e-6 * whole
    most, same = (int(x.replace(",", "")) for x in limit.split(" in "))
    assert same == whole
    assert most == pytest.approx(whole * accepted, abs=1e-6)
    if whole < 100_000:
        assert (n > most, n < most) == (side_of(p, accepted) > 0, side_of(p, accepted) < 0)


def test_confidence_is_always_one_sided() -> None:
    assert say_confidence(0.90) == "one-sided 95 %"
    assert say_confidence(0.95) == "one-sided 97.5 %"


def test_agreement_says_what_a_difference_means() -> None:
    assert "agree" in say_agreement([1e-7, -2e-5], tolerance=1e-3)
    assert "did not reach the maximum" in say_agreement([0.02], tolerance=1e-3)
    assert "No library" in say_agreement([], tolerance=1e-3)


def verdict(word: str, low: float | None, high: float | None, *, past: bool = False) -> Verdict:
    return Verdict(
        word=word, sentence="", claimed_h=1200.0, accepted_failure=0.10,
        reliability=interval(low, None, high, "probability"), exposure_past_h=0.0, n_reached=5.0,
        hidden_to_turn=None, extrapolated=past, because="",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("v", "says"),
    [
        (verdict("supported", 0.976, None), ["support 1,200 h", "24 in 1,000", "100 in 1,000",
                                             "95 % confidence"]),
        (verdict("contradicted", 0.5, 0.85), ["contradict 1,200 h", "at least 15 in 100"]),
        (verdict("contradicted", 0.5, 0.897), ["at least 103 in 1,000 engines",
                                                   "accepts 100 in 1,000"]),
        (verdict("not-yet-shown", 0.815, 0.95), ["do not yet show 1,200 h", "19 in 100"]),
        (verdict("not-yet-shown", None, None), ["any number"]),
        (verdict("not-yet-shown", 0.8, None, past=True), ["do not reach 1,200 h"]),
        (verdict("hours-do-not-tell", 0.8, 0.9), ["Hours do not tell"]),
    ],
)  # fmt: skip
def test_each_verdict_has_its_plain_sentence(v: Verdict, says: list[str]) -> None:
    text = say_verdict(v)
    for part in says:
        assert part in text
    assert not FORBIDDEN.search(text)
    assert text.endswith(".")
    assert text.count(". ") == 0


def edge(hours: float | None) -> Edge:
    return Edge(hours=hours, unrounded_h=hours, governed_by="risk")


@pytest.mark.parametrize(
    ("state", "hours", "says"),
    [
        ("answered", (700.0, 900.0, 1150.0), "may be considered for review from 700 h"),
        (
            "answered",
            (700.0, None, 1150.0),
            "from 700 h, and past 1,150 h these records speak for no",
        ),
        ("evidence-limit", (1450.0, None, 1500.0), "wear-out is not shown"),
        ("target-not-shown", (None, 900.0, 1500.0), "the other targets up to 350 h"),
        ("hours-do-not-tell", (None, None, None), "not seen to grow"),
        ("not-enough-evidence", (None, None, None), "too few"),
    ],
)
def test_each_band_has_its_plain_sentence(
    state: str, hours: tuple[float | None, float | None, float | None], says: str
) -> None:
    a, b, c = hours
    else_to = 350.0 if state == "target-not-shown" else None
    band = OverhaulBand(state=state, sentence="", plan_from=edge(a), expect_at=edge(b),
                        not_beyond=edge(c), else_to_h=else_to)  # fmt: skip
    text = say_band(band)
    assert says in text
    assert not FORBIDDEN.search(text)
    if state != "answered":
        assert "1,500" not in text


@pytest.mark.parametrize("word", ["significant difference", "safe to run", "this proves it",
                                  "no engine should pass it", "engines may fly on", "fit to fly",
                                  "Guaranteed"])  # fmt: skip
def test_words_that_promise_too_much_are_refused(word: str) -> None:
    assert FORBIDDEN.search(f"The records show {word}.")
    assert not FORBIDDEN.search("The records support it.")


def test_every_tone_has_a_label_and_no_other() -> None:
    assert set(TONE_LABELS) == set(TONES)
    with pytest.raises(ReportError, match="unknown tone"):
        check_tone("cheerful")


def test_every_verdict_has_a_face_and_no_two_marks_hang_on_colour() -> None:
    assert set(VERDICTS) < set(VERDICT_TEXT)
    marks = set()
    for word in VERDICT_TEXT:
        face = verdict_face(dataclasses.replace(make_document(), verdict=word))
        assert face.text == VERDICT_TEXT[word]
        marks.add((face.tone, str(face.mark)))
    assert len({m for _, m in marks}) == len({t for t, _ in marks}) == 4


def test_explanations_are_plain_and_short() -> None:
    from fleetstats.document import glossary

    for key in glossary._TERMS:
        e = explain(key)
        assert e.text.endswith(".")
        assert len(e.text) < 260
        assert not FORBIDDEN.search(e.text)
    assert len(glossary_terms()) == len(ALWAYS)
