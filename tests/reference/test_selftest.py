"""The selftest that travels with the package: its figures, and that it can fail.

What it holds its figures against stands in the cases themselves, each with its source.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

import pytest
from cases_support import case, expected

from fleetstats.selftest import agreement, figures, run_selftest
from fleetstats.selftest.agreement import COMPUTED
from fleetstats.selftest.cases import source


@pytest.fixture
def afresh() -> Iterator[None]:
    """Let a test run the selftest under changed figures, and nobody after it."""
    run_selftest.cache_clear()
    yield
    run_selftest.cache_clear()


def test_every_figure_agrees() -> None:
    test = run_selftest()
    assert [f"{r.case}: {r.quantity}" for r in test.rows if not r.agrees] == []
    assert test.good


def test_it_covers_the_ways_of_the_package() -> None:
    rows = run_selftest().rows
    tried = {r.tries.partition(",")[0] for r in rows}
    assert tried >= {
        "product limit", "Weibull fit", "exact bounds", "bounds without failure",
        "interval estimate (Turnbull)", "incidence by cause", "proportional hazards",
        "mean cumulative function", "power law",
    }  # fmt: skip
    assert sum(r.told != COMPUTED for r in rows) >= 20
    assert all(r.source and not r.source.startswith("as ") for r in rows)
    assert {r.told for r in rows} == {
        COMPUTED, "printed, read", "printed, second hand", "printed, from memory",
    }  # fmt: skip


@pytest.mark.parametrize("name", [n for n in figures.CASES if case(n).get("printed")])
def test_a_printed_figure_is_near_the_one_computed_elsewhere(name: str) -> None:
    """What is printed and what R and 40 digits give must not be two different figures."""
    for quantity, text in case(name)["printed"]["values"].items():
        unit = 10.0 ** -len(text.partition(".")[2])
        assert abs(expected(name)[quantity] - float(text)) <= 0.5 * unit, quantity


@pytest.mark.usefixtures("afresh")
@pytest.mark.parametrize(
    ("name", "quantity", "by"),
    [
        ("nist-weibull-more", "shape", 1.0001),  # printed to four decimals
        ("cosmesis-1-turnbull", "S(20)", 1.0001),
        ("zero-failures", "success_run_n_ceiling_R0.9_C0.9", 23 / 22),
    ],
)
def test_a_figure_that_is_off_is_a_miss(
    name: str, quantity: str, by: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    tries, make, held = figures.CASES[name]
    off = make() | {quantity: make()[quantity] * by}
    monkeypatch.setattr(agreement, "CASES", {name: (tries, make, held)})
    monkeypatch.setattr(agreement, "figures_of", lambda _: off)
    test = run_selftest()
    assert not test.good
    assert [r.quantity for r in test.rows if not r.agrees] == [quantity]
    assert f"{len(test.rows) - 1} of {len(test.rows)} figures" in test.sentence
    assert "DOES NOT AGREE" in repr(test)


def test_an_empty_selftest_is_no_success() -> None:
    assert not agreement.Selftest(rows=()).good


def test_the_table_is_the_same_in_csv() -> None:
    rows = list(csv.DictReader(io.StringIO(run_selftest().to_csv())))
    assert len(rows) == len(run_selftest().rows)
    assert {r["agrees"] for r in rows} == {"yes"}
    assert run_selftest().to_csv() == run_selftest().to_csv()


def test_a_source_that_points_to_another_case_is_followed() -> None:
    assert source("gehan-cox").startswith("Freireich/Gehan")
    assert source("cage-forecast").endswith("example 12.6")
