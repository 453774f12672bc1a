"""Settings that bend a question are cautions with their figures, at each place where it is asked.

Records are invented; the limits are our own choice or common practice, no source.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from fleetstats.chapters.cautions.assertions import weighted_median
from fleetstats.studies.analyse import analyse
from fleetstats.studies.single import cautions_at, read_base
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import CAUTIONS
from fleetstats.vocabulary.cautions.assertions import ASSERTIONS

ROWS = "engine,entry_hours,exit_hours,ending,cause,meter\n" + "".join(
    f"E-{i},0,{500 + 20 * i},{'failed' if i % 9 == 4 else 'running'},,{'tach' if i % 2 else ''}\n"
    for i in range(40)
)
USUAL = {"claim": "900.0", "confidence": "0.9", "factor": "[1.05, 1.0, 1.1]", "accepted": "0.1",
         "least": "10", "unknown": "failure"}  # fmt: skip
ODD = {
    "confidence": ("0.5", "50 %", "each bound holds at 75 % confidence only"),
    "claim": ("1.000", "1 h", "the claim of 1 h is far below what engines ran"),
    "factor": ("1.05", "tach × 1.05", "tach hours were converted by a factor without a range"),
    "accepted": ("0.6", "60 %", "it accepts that 60 % of engines fail"),
    "least": ("2", "2 at risk", "at its end the evidence rests on 2 at risk"),
    "unknown": ("competing", "4 failures", ""),
}


def studied(make_study: Any, **odd: str) -> Any:
    s = USUAL | odd
    return make_study(
        ROWS,
        f"claimed_interval_h = {s['claim']}\nconfidence = {s['confidence']}\n"
        f"[hours.factors]\ntach = {s['factor']}\n"
        f"[targets]\naccepted_failure_at_claim = {s['accepted']}\n"
        f"[evidence]\nmin_at_risk = {s['least']}\n"
        f'[question]\nunknown_cause = "{s["unknown"]}"\n[merge]\nreturns = false\n',
    )


def odd_ones(found: tuple[Caution, ...]) -> list[Caution]:
    return [c for c in found if c.code == "odd-setting"]


def test_usual_settings_have_none(make_study: Any) -> None:
    assert odd_ones(analyse(studied(make_study)).advice.cautions) == []


@pytest.mark.parametrize("name", ODD)
def test_each_is_told_by_study_and_verb_with_its_figure(name: str, make_study: Any) -> None:
    written, value, proviso = ODD[name]
    study = studied(make_study, **{name: written})
    results = analyse(study)
    (by_study,) = odd_ones(results.advice.cautions)
    assert (by_study.value, by_study.proviso) == (value, proviso)
    base = read_base(study)
    claim = study.settings.study.claimed_interval_h
    (by_verb,) = odd_ones(cautions_at(base, claim))
    assert by_verb == by_study
    assert any(by_study.text in line for line in results.answer_lines())


def test_a_verb_asked_for_other_hours_and_another_share_is_cautioned_for_those(
    make_study: Any,
) -> None:
    study = studied(make_study)
    base = read_base(study)
    (claim,) = odd_ones(cautions_at(base, 9.0))
    assert claim.value == "9 h"
    (accepted,) = odd_ones(cautions_at(base, 900.0, reliability=0.4))
    assert accepted.value == "60 %"


def test_the_middle_age_counts_rows_that_stand_for_many() -> None:
    ages, weight = np.array([900.0, 100.0, 500.0]), np.array([1.0, 5.0, 1.0])
    assert weighted_median(ages, weight) == 100.0
    assert weighted_median(ages, np.array([5.0, 1.0, 1.0])) == 900.0
    assert weighted_median(ages, np.ones(3)) == 500.0


@pytest.mark.parametrize("code", [e.code for e in ASSERTIONS] + ["stale-hours"])
def test_a_proviso_follows_the_word_but(code: str) -> None:
    provisos = [c.proviso for c in CAUTIONS[code].cases.values() if c.proviso]
    assert provisos
    for text in provisos:
        assert len(text.split()) <= 15, text
        assert not text.endswith(".")
        assert text[0].islower() or text[0] == "{", text
