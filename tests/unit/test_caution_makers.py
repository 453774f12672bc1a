"""Every case of the catalogue of cautions is given past its limit, and not before it."""

from __future__ import annotations

import datetime as dt
import string

import caution_makers_assertions  # noqa: F401  (enters its makers)
import caution_makers_calendar  # noqa: F401
import caution_makers_change  # noqa: F401
import caution_makers_clocks  # noqa: F401
import caution_makers_covariates  # noqa: F401
import caution_makers_declared  # noqa: F401
import caution_makers_doubtful  # noqa: F401
import caution_makers_integrity  # noqa: F401  (enters its makers)
import caution_makers_looks  # noqa: F401
import caution_makers_mends  # noqa: F401
import caution_makers_planned_looks  # noqa: F401
import caution_makers_sources  # noqa: F401
import pytest
from advice_fleets import made_rows, made_settings
from caution_makers import SAME_CODE_BELOW, fleet
from caution_makers_censoring import MAKERS
from caution_makers_counting import KEYS
from departure_makers import CASES

from fleetstats.chapters.cautions.rules import caution_calendar
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import CAUTIONS


def of_case(key: str, given: tuple[Caution, ...]) -> list[Caution]:
    """Return those of the cautions given that begin as the sentence of the case does."""
    code, _, case = key.partition("/")
    told = CAUTIONS[code].cases[case].says
    parts = [text for text, *_ in string.Formatter().parse(told) if text]
    return [c for c in given if c.code == code and all(p in c.text for p in parts)]


def test_every_case_has_a_maker() -> None:
    assert set(MAKERS) == set(KEYS)
    assert {f"failing-word-mapped/{case}" for case in CASES} < set(MAKERS)


@pytest.mark.parametrize("key", KEYS)
def test_the_caution_is_given_past_its_limit_and_not_before(key: str) -> None:
    (over,) = of_case(key, tuple(MAKERS[key](True)))
    case = CAUTIONS[over.code].cases[key.partition("/")[2]]
    assert over.where == (case.where if "{" not in case.where else "claim")
    assert "{" not in over.text
    under = tuple(MAKERS[key](False))
    assert of_case(key, under) == []
    other = SAME_CODE_BELOW.get(key)
    assert [c.code for c in under if c.code == over.code] == ([over.code] if other else [])
    if other:
        assert of_case(other, under)


def test_little_use_and_few_engines_of_the_calendar_rule() -> None:
    """30 h a year and five engines are the other two limits of the rule on the calendar."""
    new, settings = dt.date(2020, 1, 1), made_settings()
    years = (dt.date(2026, 1, 1) - new).days / 365.25

    def given(n: int, h: float) -> bool:
        return bool(caution_calendar(made_rows(fleet(0, n), in_service=new, exit_h=h), settings))

    assert given(5, 29.9 * years)
    assert not given(5, 30.1 * years)
    assert not given(4, 29.9 * years)
