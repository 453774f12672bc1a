"""A study's results become a report: order, figures, words, sums; also with nothing failed."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from fleetstats.advice.results import Results
from fleetstats.chapters.analysis.figures import say_rise
from fleetstats.chapters.compose import compose_report
from fleetstats.chapters.registry import CHAPTERS
from fleetstats.document.document import Document, Explain, Figure, Statement, Table
from fleetstats.document.identity import report_id
from fleetstats.document.parts import check_document, find_figures, find_tables, walk_blocks
from fleetstats.document.words import FORBIDDEN
from fleetstats.report.html import page_html
from fleetstats.report.pdf import report_pdf

BASE = ("answer", "population", "configuration", "data", "definitions", "exposure", "calendar",
        "failures", "analysis", "assumptions", "checks", "decision", "provenance")  # fmt: skip

SETTINGS = """
claimed_interval_h = 900
seed = 7
asked_by = "builder <b>"

[targets]
risk_per_check = 0.02

[cost]
ratio = 5

[evidence]
resamples = 300

[fleet]
built = 100
"""

NO_CLAIM = SETTINGS.replace("claimed_interval_h = 900\n", "")


def rows_of(n_failed: int, n: int = 80) -> str:
    """Return lives by Weibull shape 3 and scale 1,500 h; names and endings are a mixed lot."""
    lines = ["engine,entry_hours,exit_hours,last_good_hours,ending,cause,build"]
    for i in range(n):
        age = 1500.0 * (-np.log(1 - (i + 0.5) / n)) ** (1 / 3)
        stop = 200.0 + 1400.0 * ((i * 37) % n) / n
        failed = age < stop and n_failed > 0
        n_failed -= failed
        end = min(age, stop)
        ending, cause, good = "running", "", ""
        if failed:
            ending, cause = ("failed", "piston") if i % 3 else ("found-at-check", "valve")
            good = f"{end - 30:.1f}" if ending == "found-at-check" else ""
        elif i % 11 == 0:
            ending, cause = "removed", "prop strike"
        elif i % 13 == 0:
            ending = "removed-finding"
        name = "=E<script>" if i == 3 else f"E-{i:03}"
        entry = 0 if i % 4 else min(100.0, 0.3 * end)
        lines.append(f"{name},{entry:.1f},{end:.1f},{good},{ending},{cause},std")
    return "\n".join(lines) + "\n"


@pytest.fixture
def results_of(
    make_study: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> Callable[..., Results]:
    from fleetstats.studies import analyse as door

    monkeypatch.setattr(door, "CHAPTERS", {})

    def run(n_failed: int, settings: str = SETTINGS) -> Results:
        return door.analyse(make_study(rows_of(n_failed), settings))

    return run


def check_all(document: Document) -> None:
    """Check what holds for every report."""
    check_document(document)
    keys = [s.key for s in document.sections]
    order = list(CHAPTERS)
    assert [k for k in order if k in keys] == [k for k in keys if k in order]
    assert set(BASE) <= set(keys)
    assert keys[0] == "answer"
    assert keys[-1] == "provenance"
    assert [s.key for s in document.summaries] == ["for-builder", "for-club", "for-inspector"]
    terms = [b.term.lower() for _, b in walk_blocks(document) if isinstance(b, Explain)]
    assert len(terms) == len(set(terms))
    for _, block in walk_blocks(document):
        if isinstance(block, Statement | Explain):
            assert not FORBIDDEN.search(block.text), block.text
        if isinstance(block, Statement):
            assert block.text == block.text.strip()
            assert "nan" not in block.text.lower().split()
            assert "None" not in block.text
        if isinstance(block, Figure):
            assert block.alt
            assert block.see
        if isinstance(block, Figure | Table):
            assert not FORBIDDEN.search(f"{block.title} {block.see}"), block.key
        if isinstance(block, Table):
            facts = not any(c.title for c in block.columns)
            assert facts or all(c.title for c in block.columns), block.key
    for caution in document.cautions:
        assert not FORBIDDEN.search(caution.text), caution.code
    for sentence in document.answer:
        assert not FORBIDDEN.search(sentence)
        assert len(sentence) < 260
    for figure in find_figures(document):
        for panel in figure.panels:
            assert panel.x.label


def table(document: Document, key: str) -> Table:
    return next(t for t in find_tables(document) if t.key == key)


def texts(document: Document, section: str) -> str:
    return " ".join(
        b.text for s, b in walk_blocks(document) if s.key == section and isinstance(b, Statement)
    )


def test_a_fleet_with_failures(results_of: Callable[..., Results]) -> None:
    results = results_of(20)
    document = compose_report(results)
    check_all(document)
    figures = {f.key for f in find_figures(document)}
    assert {"fleet", "at-risk", "survival", "probability", "hazard", "advice", "risk", "cost",
            "outer-band"} <= figures  # fmt: skip
    assert document.first_figure is not None
    assert document.first_figure.key == "advice"
    assert len(document.answer) == 4
    assert document.asked.endswith("900 h")
    # the sum of rows is said, and every failure and removal on a finding has its line
    a = results.audit
    assert f"{a.n_read} rows read = {a.n_used} used + {a.n_set_aside} set aside" in texts(
        document, "data"
    )
    # the table of regret holds the least one, and its chances are the fit's own
    regret = table(document, "cost-regret").rows
    assert len(regret) <= 12
    assert [r[0] for r in regret] == sorted(r[0] for r in regret)
    (least,) = [r for r in regret if "least regret" in str(r[3])]
    assert least[2] == min(r[2] for r in regret)
    assert results.fit is not None
    assert least[1] == 1.0 - float(results.fit.reliability(np.array([least[0]]))[0])
    # no dates: the page on years says what is missing instead of staying away
    assert "none of 80 lives have the dates" in texts(document, "calendar")
    lines = table(document, "failures").rows
    s = results.spells
    assert len(lines) == int((s.event != 0).sum())
    assert [r[2] for r in lines] == sorted(float(x) for x in s.exit_upper[s.event != 0])
    ends = table(document, "endings").rows
    assert sum(int(r[-1] or 0) for r in ends) == results.built.funnel.total.lives
    funnel = table(document, "funnel").rows[-1]
    assert funnel[1] == funnel[2] + funnel[3]  # type: ignore[operator]
    # the box names side, reach and conditions
    box = dict(table(document, "claim-box").rows)
    assert "one-sided 95 %" in str(box["Confidence"])
    assert "Provided that" in box
    assert "Stop rule (default, not yet chosen)" in texts(document, "decision")
    assert "Review (default, not yet chosen): by " in texts(document, "decision")
    page = page_html(document)
    assert "=E<script>" not in page
    assert "=E&lt;script&gt;" in page
    assert "builder &lt;b&gt;" in page
    assert report_pdf(document).startswith(b"%PDF")
    assert compose_report(results) == document


def test_a_fleet_without_failures(results_of: Callable[..., Results]) -> None:
    results = results_of(0)
    document = compose_report(results)
    check_all(document)
    figures = {f.key for f in find_figures(document)}
    assert document.first_figure is not None
    assert document.first_figure.key == "survival"
    assert not {"probability", "cost"} & figures
    # no estimate is drawn where none exists
    kinds = {(p.kind, p.role) for p in document.first_figure.panels[0].layers}
    assert ("ribbon", "band") in kinds
    assert ("line", "estimate") not in kinds
    assert "no failures" in document.answer[-2]
    assert "not the same as none" in texts(document, "failures")
    assert page_html(document)


@pytest.mark.parametrize(
    ("entry", "told"),
    [
        ("0.85", ("Hobbs hours", 0.85, 0.85, 0.85)),
        ("[0.85, 0.8, 0.9]", ("Hobbs hours", 0.85, 0.8, 0.9)),
        ("{ factor = 0.85, high = 0.9 }", ("Hobbs hours", 0.85, 0.85, 0.9)),
    ],
)
def test_a_factor_is_shown_however_the_study_writes_it(
    results_of: Callable[..., Results], entry: str, told: tuple[Any, ...]
) -> None:
    results = results_of(0, f"{SETTINGS}\n[hours]\nfactors = {{ hobbs = {entry} }}\n")
    document = compose_report(results)
    assert table(document, "clocks").rows == (told,)
    assert "Hobbs hours" in page_html(document)


def test_a_study_that_claims_nothing(results_of: Callable[..., Results]) -> None:
    document = compose_report(results_of(20, NO_CLAIM))
    check_all(document)
    assert len(document.answer) == 3
    assert document.asked == "No interval is claimed"
    assert document.verdict == "answered"
    assert "Claimed" not in dict(table(document, "claim-box").rows)


def test_the_reader_s_own_page_comes_first(results_of: Callable[..., Results]) -> None:
    settings = SETTINGS.replace("seed = 7", 'seed = 7\nreader = "inspector"')
    document = compose_report(results_of(3, settings))
    assert document.summaries[0].key == "for-inspector"
    assert {s.key for s in document.summaries} == {"for-builder", "for-club", "for-inspector"}


def test_what_lies_past_the_evidence_is_marked_in_every_curve(
    results_of: Callable[..., Results],
) -> None:
    results = results_of(20)
    end = results.advice.horizon.supported_h
    for figure in find_figures(compose_report(results)):
        if figure.key not in ("survival", "hazard", "risk", "cost", "probability"):
            continue
        layers = figure.panels[0].layers
        curves = [p for p in layers if p.kind in ("line", "ribbon")]
        assert curves
        assert all(p.extrapolated_from == pytest.approx(end) for p in curves), figure.key
        assert any(p.role == "horizon" and p.kind == "vline" for p in layers)


def test_a_report_s_id_follows_its_inputs(results_of: Callable[..., Results]) -> None:
    results = results_of(3)
    first = report_id(results)
    assert report_id(dataclasses.replace(results)) == first
    f = results.provenance.files[0]
    changed = dataclasses.replace(f, sha256="0" * 64)
    other_file = dataclasses.replace(
        results, provenance=dataclasses.replace(results.provenance, files=(changed,))
    )
    s = results.settings
    titled = dataclasses.replace(s, study=dataclasses.replace(s.study, title="another title"))
    other = dataclasses.replace(results.study, settings=titled)
    other_setting = dataclasses.replace(results, study=other)
    assert len({first, report_id(other_file), report_id(other_setting)}) == 3


@pytest.mark.parametrize(
    ("state", "drawn", "says", "not_says"),
    [
        ("wear-out", True, "wear-out.", "not shown"),
        ("not-shown", True, "is not shown", "The curve rises"),
        ("no-wear-out", True, "early faults", "not shown"),
        ("not-enough-evidence", False, "no sign of wear-out", "curve rises"),
    ],
)
def test_a_rise_is_called_wear_out_only_where_it_is_shown(
    state: str, drawn: bool, says: str, not_says: str
) -> None:
    text = say_rise(state, drawn=drawn)
    assert says in text
    assert not_says not in text
