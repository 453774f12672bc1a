"""A value says what it is in one line, however much it holds."""

from __future__ import annotations

import numpy as np

from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.plan.compute import plan_evidence
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings, StudyKeys


def test_arrays_and_inner_values_are_told_in_a_word() -> None:
    spells = Spells.of(np.zeros(40), np.linspace(100, 1500, 40), np.zeros(40, dtype=bool))
    settings = Settings(study=StudyKeys(title="t", claimed_interval_h=1200.0))
    plan = plan_evidence(spells, settings)
    text = repr(plan)
    assert text.startswith("Plan(state=")
    assert "\n" not in text
    assert "array(" not in text
    assert "<41: 0 … " in text
    assert len(text) < 3000
    assert str(plan).startswith("To show")


def test_short_values_are_told_whole() -> None:
    text = repr(Quantity.conditional(1200.0, 50.0))
    assert "hours=1200" in text
    assert "width_h=50" in text
