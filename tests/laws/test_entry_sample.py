"""Of many failures a sample is compared with those beside it, and the check says so."""

from __future__ import annotations

import re

from checked_fleet import checked_spells

from fleetstats.survival.counting import entry_check
from fleetstats.survival.counting.entry_check import estimate_entry_check


def test_a_sample_of_the_failures_says_its_seed_and_its_error(monkeypatch):
    lives = checked_spells(900, 5)
    whole = estimate_entry_check(lives, seed=3)
    monkeypatch.setattr(entry_check, "MOST_COMPARED", whole.n_compared)
    assert "Compared are" not in estimate_entry_check(lives, seed=3).sentence
    monkeypatch.setattr(entry_check, "MOST_COMPARED", 120)
    off = []
    for seed in range(12):
        told = estimate_entry_check(lives, seed=seed)
        said = re.search(r"Compared are 120 of the (\d+) failures, drawn with seed (\d+), which "
                         r"leaves tau a standard error of ([\d.]+)", told.sentence)  # fmt: skip
        assert said is not None
        assert int(said[2]) == seed
        assert told.n_compared <= 120 < int(said[1])
        off.append((told.tau - whole.tau) / float(said[3]))
    # twelve draws of a standard normal: their mean square is below 2.75 in 999 of 1,000
    assert 0.1 < sum(x * x for x in off) / len(off) < 2.75
