"""First lives and lives after overhaul: made fleets in which the truth is known."""

import datetime as dt

import numpy as np
import pytest

from fleetstats.chapters.later_lives.compute import advise_later_lives
from fleetstats.chapters.later_lives.section import compose_later_lives
from fleetstats.chapters.later_lives.words import _from_to
from fleetstats.records.life import LifeRow
from fleetstats.records.rules import judge_ending
from fleetstats.spells.build import spells_of
from fleetstats.study.settings import HoursKeys, Settings, StudyKeys
from fleetstats.vocabulary.finding import Origin


def settings(basis="since-overhaul"):
    return Settings(
        study=StudyKeys(title="made up", analysis_date=dt.date(2026, 1, 1)),
        hours=HoursKeys(basis=basis),
    )


def fleet(second, *, n=1500, seed=1):
    """First lives Weibull(3, 2,000 h) up to overhaul at 1,500 h; `second` draws the later ones."""
    rng = np.random.default_rng(seed)
    first = 2000 * rng.weibull(3.0, size=n)
    rows = []
    for i in range(n):
        end = min(first[i], 1500.0)
        rows.append(_row(i, end, first[i] < 1500, 0, 0.0))
        rows.append(_row(i, *second(rng, end), 1, end))
    return rows


def _row(i, hours, failed, life, start):
    return LifeRow(
        origin=Origin(file="a.csv", row=i + 2), rows=(i + 2,), engine=f"E{i}",
        exit_h=float(hours), ending="failed" if failed else "planned-overhaul",
        cause="gears" if failed else "", life=life, life_start_h=start,
    )  # fmt: skip


def as_new(rng, _before):
    x = 2000 * rng.weibull(3.0)
    return min(x, 1500.0), x < 1500


def worn(rng, before):
    """Keep a quarter of the hours before overhaul as age: a life drawn given that age."""
    age = 0.25 * before
    x = 2000 * ((age / 2000) ** 3 + rng.exponential()) ** (1 / 3) - age
    return min(x, 1500.0), x < 1500


def advise(rows, s=None):
    s = s or settings()
    verdicts = tuple(judge_ending(r, s) for r in rows)
    return advise_later_lives(rows, spells_of(tuple(rows), verdicts, s), s)


def test_engines_as_good_as_new_are_found_alike():
    x = advise(fleet(as_new))
    assert x.ratio.verdict == "inside"
    # Some 500 failures on each side: a standard error of 1/3 x sqrt(2/500) = 0.02.
    assert x.ratio.ratio == pytest.approx(1.0, abs=0.06)
    assert max(x.carried, key=lambda c: c.log_likelihood).share == 0.0
    assert compose_later_lives(x).blocks[0].tone == "fact"


def test_an_overhaul_that_leaves_age_behind_is_found():
    x = advise(fleet(worn))
    assert x.ratio.ratio < 0.92
    best = max(x.carried, key=lambda c: c.log_likelihood)
    assert best.share == 0.25
    assert best.shape == pytest.approx(3.0, abs=0.25)
    assert "first lives" in x.sentence
    table = compose_later_lives(x).blocks[1]
    assert min(row[3] for row in table.rows) == 0.0


def test_since_new_or_with_one_kind_of_life_there_is_nothing_to_compare():
    rows = fleet(as_new, n=20)
    assert advise(rows, settings("since-new")) is None
    assert advise([r for r in rows if r.life == 0]) is None


def test_an_answer_that_does_not_move_has_no_range():
    assert _from_to("850 h", "850 h") == "stays at 850 h"
    assert _from_to("850 h", "900 h") == "lies between 850 h and 900 h"
