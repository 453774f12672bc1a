"""A number that decides shows on which side of its limit it lies, wherever it is printed.

Common sense, no source: "at most 90 %" beside a target of 90 % and "contradicted" is no reason.
"""

from __future__ import annotations

import dataclasses
import json
import re
import shutil
import subprocess
from importlib import resources

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_studies import DEMOS, document_of, results_of, table_of, texts_of

from fleetstats.bands.interval import Interval
from fleetstats.chapters.claim.words import may_quote
from fleetstats.chapters.hidden.values import Hidden
from fleetstats.core.units import round_hours, side_of, text_decided, text_percent
from fleetstats.document.cells import format_cell, show_cell
from fleetstats.document.tabulated import Tabulated
from fleetstats.document.words import say_interval, say_range
from fleetstats.report.html import page_html
from fleetstats.vocabulary.wording import at_least, at_most, hours_down, hours_near

LIMITS = st.sampled_from([0.9, 0.95, 0.1, 0.05, 0.015, 0.9975, 0.05, 0.3])
NEAR = st.floats(-6.0, -1.0).map(lambda k: 10.0**k)
EDGES = st.sampled_from(["", "low", "high"])


def number(text: str) -> float:
    return float(re.sub(r"[^0-9.]", "", text))


@given(LIMITS, NEAR, st.booleans(), EDGES)
def test_a_share_shows_its_side(limit: float, off: float, above: bool, edge: str) -> None:
    p = limit + (off if above else -off)
    if not 1e-9 < p < 1.0:  # less is the rest that subtracting a limit from itself leaves
        return
    shown = number(text_decided(p, limit, edge=edge))
    assert side_of(shown, 100 * limit) == (1 if above else -1)
    if edge == "low":
        assert shown <= 100 * p + 1e-7
    if edge == "high":
        assert shown >= 100 * p - 1e-7
    assert number(format_cell(p, "percent", edge, (limit,))) == shown


@given(LIMITS, EDGES)
def test_a_share_equals_its_limit_in_print_only_if_it_does_in_fact(limit: float, edge: str) -> None:
    for p in (limit, 1.0 - (1.0 - limit)):  # the second differs in the last bits only
        assert number(text_decided(p, limit, edge=edge)) == pytest.approx(100 * limit, abs=1e-9)
    assert at_most(limit - 1e-6, limit) != at_most(limit, limit) != at_least(limit + 1e-6, limit)


@given(st.sampled_from([1000.0, 1200.0, 1234.0]), st.floats(-3.0, 2.5), st.booleans())
def test_hours_show_their_side_though_advice_is_rounded(
    claim: float, k: float, above: bool
) -> None:
    h = claim + (10.0**k if above else -(10.0**k))
    want = 1 if above else -1
    for text in (text_decided(h, claim, unit="h"), hours_down(h, claim), hours_near(h, claim)):
        assert side_of(number(text), claim) == want, text
    assert round_hours(h, claim, down=True) <= h + 1e-6
    assert number(hours_down(h, claim)) <= h + 1e-6


@given(st.floats(0.01, 1e4), st.sampled_from([0.8, 1.0, 1.25, 2.0, 0.05]), EDGES)
def test_a_plain_number_shows_its_side(x: float, limit: float, edge: str) -> None:
    shown = number(text_decided(x, limit, unit="", edge=edge))
    if abs(x - limit) > 1e-7 * limit:
        assert side_of(shown, limit) == side_of(x, limit)


def test_without_a_limit_nothing_changes() -> None:
    assert text_percent(0.8965) == text_decided(0.8965) == "90 %"
    assert text_decided(0.8965, 0.9) == "89.7 %"
    assert text_decided(0.8965, None) == "90 %"
    assert text_decided(0.8917, 0.9, edge="high") == "89.2 %"
    assert text_decided(1199.7, 1200.0, unit="h") == "1,199.7 h"
    assert hours_down(1210.0, 1205.0) == "1,210 h"
    assert hours_down(1210.0) == "1,200 h"


@pytest.mark.parametrize("low", [0.9 - 1e-5, 0.9 - 1e-3, 0.896, 0.9 + 1e-5, 0.9 + 1e-3, 0.904])
def test_a_claim_quoted_near_its_limit_says_more_or_less(low: float) -> None:
    results = results_of("workshop")
    claim = results.chapters["claim"]
    state = "supported" if low >= 0.9 else "not-yet-shown"
    near = dataclasses.replace(claim, state=state, failure_high=1.0 - low, hidden_to_turn=None)
    text = may_quote(near, results.settings)
    shown = number(re.search(r"at most ([0-9.]+ %) of engines", text)[1])
    assert (shown > 10.0) == (low < 0.9)
    band = Interval(name="r", unit="probability", estimate=low, low=low, high=low, level=0.9,
                    method="open-shapes")  # fmt: skip
    for said in (say_interval(band, 0.9), say_range(band, 0.9)):
        assert {number(x) < 90.0 for x in re.findall(r"\d[0-9.]* %(?! low| upp)", said)} == {
            low < 0.9
        }


@pytest.mark.parametrize("name", DEMOS)
def test_each_decided_number_of_a_demo_shows_its_side(name: str) -> None:
    results, document = results_of(name), document_of(name)
    v = results.advice.verdict
    accepted = 100.0 * v.accepted_failure
    seen = 0
    for where, text in texts_of(document):
        for sentence in re.findall(r"[Aa]t (?:least|most) ([0-9.]+) % (?:of engines|do)\b", text):
            if where in ("claim", "summary-builder", "summary-club", "summary-inspector"):
                seen += 1
                assert float(sentence) != accepted, (where, text)
    assert seen
    for key in ("claim-by-shape", "hidden-scenarios", "plan-steps", "claim-by-group"):
        table = table_of(document, key)
        for j, column in enumerate(table.columns if table is not None else ()):
            if column.key.startswith(("failure_high", "high_after", "if_")):
                assert column.beside == (pytest.approx(v.accepted_failure),), (key, column.key)
                for row in table.rows:
                    if row[j] is not None:
                        shown = number(show_cell(row[j], column))
                        assert side_of(shown, accepted) == side_of(100 * row[j], accepted)


def test_on_condition_no_longer_prints_the_target_for_an_edge_below_it() -> None:
    document = document_of("on-condition")
    edges = [t for _, t in texts_of(document) if "one-sided 95 % upper" in t and "1,200 h" in t]
    assert edges
    for text in edges:
        assert "at most 90 %" not in text
        assert "at most 89.2 %" in text
    quoted = [t for _, t in texts_of(document) if "10 % is contradicted" in t]
    assert quoted
    assert all("At least 10.8 % do" in t for t in quoted)
    assert "at least 108 in 1,000 engines" in document.answer[0]
    rows = table_of(document, "estimates").rows
    (reliability,) = [r for r in rows if str(r[0]).startswith("reliability at")]
    assert reliability[2] == "74 % to 89.2 %"


def test_the_page_knows_the_limits_of_its_readings() -> None:
    tabulated = results_of("on-condition").chapters["tabulated"]
    assert isinstance(tabulated, Tabulated)
    shares = [r for r in tabulated.readings if r.kind == "percent"]
    assert shares
    assert all(r.beside == (pytest.approx(0.9),) for r in shares)
    page = page_html(document_of("on-condition"))
    rows = re.findall(r"<tr>.*?Share of engines that reach.*?</tr>", page, re.DOTALL)
    assert rows
    assert "89.2" in rows[0]


def test_a_reporting_share_that_is_needed_is_never_rounded_down() -> None:
    hidden = results_of("quiet-fleet").chapters["hidden"]
    assert isinstance(hidden, Hidden)
    need = hidden.reporting_share
    said = [t for _, t in texts_of(document_of("quiet-fleet")) if "must be reported" in t]
    shown = [number(x) for t in said for x in re.findall(r"At least ([0-9.]+ %) of all", t)]
    assert shown
    assert all(x >= 100 * need - 1e-9 for x in shown)


@pytest.mark.skipif(shutil.which("node") is None, reason="needs a JavaScript engine")
def test_the_page_writes_a_share_beside_a_limit_as_the_report_does() -> None:
    """The page's own formatter and `text_decided` agree; shares have seven digits, as its grid."""
    script = (resources.files("fleetstats.report") / "templates" / "page.js").read_text("utf-8")
    functions = script[script.index("function side(") : script.index("function hours(x)")]
    asked = [
        (round(t + s * 10.0**-k, 7), c, [t])
        for t in (0.9, 0.95, 0.1, 0.05)
        for s in (-1, 1)
        for k in (1.5, 2, 2.7, 3.2, 4.1, 5)
        for c in (-1, 0, 1)
    ] + [(0.9, 1, [0.9]), (0.8965, 0, [])]
    code = (
        f"{functions}\nconst out = {json.dumps(asked)}.map(a => percent(a[0], 2, a[1], a[2]));"
        "\nconsole.log(JSON.stringify(out));"
    )
    done = subprocess.run(["node", "-e", code], capture_output=True, text=True, check=True)
    edges = {-1: "low", 0: "", 1: "high"}
    for (p, careful, limits), text in zip(asked, json.loads(done.stdout), strict=True):
        assert text.replace("\u00a0", " ") == text_decided(p, *limits, edge=edges[careful])
